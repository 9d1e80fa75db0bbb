/* The interface: worlds are made, built, run step by step, read and copied. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

int32_t tw_version(void) {
    return TW_VERSION;
}

int32_t tw_size(int32_t which) {
    static const int32_t sizes[] = {
        sizeof(tw_part),    sizeof(tw_rules),        sizeof(tw_act),        sizeof(tw_note),   sizeof(tw_change),
        sizeof(tw_summary), sizeof(tw_layout),       sizeof(tw_job),        sizeof(tw_ending), sizeof(tw_batch_data),
        sizeof(tw_limit),   sizeof(tw_layouts_data), sizeof(tw_anneal_data)};
    return which >= 0 && which < (int32_t)(sizeof sizes / sizeof *sizes) ? sizes[which] : TW_BAD_SIZE;
}

tw_world *tw_new(void) {
    return calloc(1, sizeof(tw_world));
}

void tw_free(tw_world *w) {
    if (!w)
        return;
#define TW_DROP_ARRAY(type, name) free(w->name);
    TW_SHAPE(TW_DROP_ARRAY)
    TW_STATE(TW_DROP_ARRAY)
    TW_SCRATCH(TW_DROP_ARRAY)
    for (uint32_t i = 0; i < TW_WHEEL; i++)
        free(w->wheel[i].e);
    free(w);
}

/* --- what is handed over is checked ------------------------------------------------------------------------------ */

static bool within(int64_t v, int64_t low, int64_t high) {
    return v >= low && v <= high;
}

/* The acts that a part of that role may take. */
static int32_t role_acts(int32_t role) {
    if (role == TW_BUTTON)
        return 1 << TW_PRESS;
    if (role == TW_LEVER)
        return 1 << TW_FLIP | 1 << TW_ON | 1 << TW_OFF;
    if (role == TW_PLATE)
        return 1 << TW_DROP | 1 << TW_TAKE | 1 << TW_TREAD | 1 << TW_LEAVE;
    return tw_is_store(role) ? 1 << TW_PUT | 1 << TW_TAKE : 0;
}

bool tw_good_part(const tw_part *p) {
    if (!within(p->role, 0, TW_ROLES - 1))
        return false;
    bool flat = p->role == TW_REPEATER || p->role == TW_COMPARATOR;
    bool faces = flat || p->role == TW_TORCH || p->role == TW_LEVER || p->role == TW_BUTTON || p->role == TW_SENSOR ||
                 p->role == TW_PISTON || p->role == TW_HOPPER || p->role == TW_EJECTOR;
    if (!within(p->facing, 0, flat ? 3 : 6) || (faces && p->facing == 6) || !within(p->support, 0, 2))
        return false;
    if (p->support == 2 && p->facing == 6)
        return false;
    bool timed = flat || p->role == TW_TORCH || p->role == TW_LAMP || p->role == TW_BUTTON || p->role == TW_PLATE ||
                 p->role == TW_SENSOR || p->role == TW_EJECTOR;
    if (!within(p->steps, timed, 100000000) || (p->role == TW_PLATE && !within(p->counts, 1, 1000000)))
        return false;
    if (tw_is_store(p->role) && !(within(p->capacity, 1, 1000000000) && within(p->items, 0, p->capacity)))
        return false;
    if (p->acts & ~role_acts(p->role))
        return false;
    return within(p->act, -1, TW_CLEAR) && within(p->mode, 0, 1) && within(p->feels, 0, 3) &&
           within(p->conducts, 0, 1) && within(p->carries, 0, 1) && within(p->movable, 0, 1);
}

bool tw_good_rules(const tw_rules *r) {
    const int32_t priorities[] = {r->repeater_ahead, r->repeater_off, r->repeater_on, r->comparator_ahead,
                                  r->comparator_else};
    const int32_t steps[] = {r->burnout_window,    r->burnout_rest, r->sensor_pulse, r->hopper_cooldown,
                             r->hopper_first_wait, r->item_rest,    r->item_vanish,  r->travel};
    for (size_t i = 0; i < sizeof priorities / sizeof *priorities; i++)
        if (!within(priorities[i], -100, 100))
            return false;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (!within(steps[i], 1, 1000000))
            return false;
    return within(r->top, 1, 15) && within(r->full, 1, 15) && within(r->loss, 1, 15) && within(r->through, 0, 1) &&
           within(r->burnout_count, 1, 10000) && within(r->push_limit, 1, 10000) && within(r->hears_within, 1, 4) &&
           within(r->hears_above, 0, 1) && within(r->fill_span, 0, 14);
}

int32_t tw_good_cells(const int32_t *cells, int64_t n, int step, int64_t codes) {
    for (int64_t i = 0; i < n; i++) {
        for (int a = 0; a < 3; a++)
            if (!within(cells[step * i + a], -TW_FARTHEST / 2, TW_FARTHEST))
                return TW_BAD_CELL;
        if (step == 4 && !within(cells[4 * i + 3], 0, codes - 1))
            return TW_BAD_SIZE;
    }
    return TW_DONE;
}

bool tw_good_act(const tw_world *w, const tw_act *act) {
    const int32_t cell[3] = {act->x, act->y, act->z};
    return tw_good_cells(cell, 1, 3, 0) == TW_DONE && within(act->verb, 0, TW_USUAL) && act->step >= 0 &&
           act->step < TW_NEVER / 4 && within(act->number, 0, 100000000) && within(act->length, 0, 100000000) &&
           within(act->instead, 0, TW_USUAL) &&
           (act->verb != TW_PLACE || within(act->code, 0, (int64_t)w->palette_n - 1));
}

/* --- building ----------------------------------------------------------------------------------------------------- */

static void settle(tw_world *w) {
    w->started = false;
    for (uint32_t s = 0; s < w->links_n; s++)
        if (w->live[s].flags & TW_EAGER)
            w->live[s].level = (uint8_t)tw_main(w, (int32_t)s);
    for (uint32_t s = 0; s < w->links_n; s++) {
        w->started = w->links[s].role != TW_SENSOR; /* a lamp that lights now is seen by sensors; the start is not */
        tw_notify(w, (int32_t)s);
    }
    w->started = true;
    w->dirty = true;
    w->now = -1;
}

/* Build from what was checked already. */
int32_t tw_build_checked(tw_world *w, const tw_rules *rules, const tw_part *palette, int64_t palette_n,
                         const int32_t *cells, int64_t cells_n, const int32_t *probes, int64_t probes_n, int32_t order,
                         tw_shuffle shuffle) {
    tw_clear(w);
    tw_new_shape(w);
    w->rules = *rules;
    w->order = order;
    w->shuffle = shuffle;
    TW_ROOM(w, palette, palette_n);
    if (palette_n)
        memcpy(w->palette, palette, (size_t)palette_n * sizeof *palette);
    w->palette_n = (uint32_t)palette_n;
    tw_lay_box(w, cells, cells_n);
    tw_make_ranks(w);
    tw_lay_all(w, cells, cells_n);
    for (int64_t i = 0; i < probes_n; i++) {
        tw_cell cell = {probes[4 * i], probes[4 * i + 1], probes[4 * i + 2]};
        TW_PUSH(w, probes, (tw_probe){cell, probes[4 * i + 3], 0, {-1, -1, 0, 0, 0, 0}});
    }
    tw_link_all(w);
    settle(w);
    w->built = true;
    return TW_DONE;
}

int32_t tw_build(tw_world *w, const tw_rules *rules, const tw_part *palette, int64_t palette_n, const int32_t *cells,
                 int64_t cells_n, const int32_t *probes, int64_t probes_n, int32_t order, tw_shuffle shuffle) {
    if (!w || !rules || !within(palette_n, 0, 65535) || !within(cells_n, 0, TW_MOST_PARTS) ||
        !within(probes_n, 0, TW_MOST_PARTS) || !within(order, 0, 2) || (order == 2 && !shuffle) ||
        (palette_n && !palette) || (cells_n && !cells) || (probes_n && !probes) || !tw_good_rules(rules))
        return TW_BAD_SIZE;
    for (int64_t i = 0; i < palette_n; i++)
        if (!tw_good_part(&palette[i]))
            return TW_BAD_PART;
    int32_t bad = tw_good_cells(cells, cells_n, 4, palette_n);
    bad = bad ? bad : tw_good_cells(probes, probes_n, 4, 2);
    if (bad)
        return bad;
    TW_TRY(w);
    return tw_build_checked(w, rules, palette, palette_n, cells, cells_n, probes, probes_n, order, shuffle);
}

int32_t tw_script(tw_world *w, const tw_act *acts, int64_t acts_n) {
    if (!w || !w->built || !within(acts_n, 0, TW_MOST_PARTS) || (acts_n && !acts))
        return TW_BAD_SIZE;
    int64_t last = w->acts_n > w->act_next ? w->acts[w->acts_n - 1u].step : w->now + 1;
    for (int64_t i = 0; i < acts_n; i++) {
        if (!tw_good_act(w, &acts[i]) || acts[i].step < last)
            return TW_BAD_SIZE;
        last = acts[i].step;
    }
    TW_TRY(w);
    for (int64_t i = 0; i < acts_n; i++)
        TW_PUSH(w, acts, acts[i]);
    return TW_DONE;
}

/* --- running ------------------------------------------------------------------------------------------------------ */

/* What a watched cell shows. */
int32_t tw_value(const tw_world *w, const tw_probe *probe) {
    int32_t s = tw_at_cell(w, probe->cell);
    if (!tw_real(w, s))
        return 0;
    if (probe->of_part)
        return w->rules.full;
    int role = w->links[s].role;
    if (tw_is_store(role))
        return w->stores[w->place[s].aux].count;
    if (role == TW_WIRE)
        return w->live[s].flags & TW_EAGER ? w->live[s].level : (int32_t)tw_main(w, s);
    if (role == TW_PLAIN)
        return tw_part_of(w, s)->mode ? (int32_t)tw_main(w, s) : 0;
    if (role == TW_COMPARATOR || (role == TW_PLATE && tw_part_of(w, s)->mode))
        return w->live[s].level;
    return w->live[s].level ? w->rules.full : 0;
}

void tw_sample(tw_world *w) {
    for (uint32_t i = 0; i < w->probes_n; i++) {
        tw_probe *p = &w->probes[i];
        int32_t value = tw_value(w, p);
        if (value == p->value && w->now > 0)
            continue;
        if (value != p->value)
            p->sum.changes++;
        if (value && !p->value) {
            p->sum.pulses++;
            if (p->sum.first_on < 0)
                p->sum.first_on = w->now;
        }
        if (!value && p->value)
            p->sum.last_off = w->now;
        if (value > p->sum.highest)
            p->sum.highest = value;
        p->value = p->sum.last = value;
        if (w->keep)
            TW_PUSH(w, changes, (tw_change){w->now, (int32_t)i, value});
    }
    w->dirty = false;
}

/* Do the next act of the script. Where acts are kept, what shows before and after it is, too. */
static void act_next(tw_world *w) {
    tw_act act = w->acts[w->act_next++];
    if (w->keep == TW_KEEP_ACTS && w->dirty)
        tw_sample(w);
    int was = tw_perform(w, &act);
    if (w->keep == TW_KEEP_ACTS) {
        TW_PUSH(w, changes, (tw_change){w->now, -1, was});
        tw_sample(w);
    }
}

void tw_one_step(tw_world *w, int64_t step) {
    w->now = step;
    if (w->late_n)
        tw_reach(w);
    tw_due_parts(w);
    if (w->queue_n)
        tw_moves_phase(w);
    if (w->stores_n || w->plates_n || w->stacks_n || w->moves_n)
        tw_items_phase(w);
    while (w->act_next < w->acts_n && w->acts[w->act_next].step <= step)
        act_next(w);
    if (w->dirty)
        tw_sample(w);
}

/* Let an act come after those that the script has for its step. */
void tw_insert_act(tw_world *w, const tw_act *act) {
    TW_ROOM(w, acts, w->acts_n + 1u);
    uint32_t at = w->acts_n++;
    for (; at > w->act_next && w->acts[at - 1u].step > act->step; at--)
        w->acts[at] = w->acts[at - 1u];
    w->acts[at] = *act;
}

int64_t tw_next_step(const tw_world *w) {
    if (w->now < 0)
        return 0;
    int64_t next = tw_next_event(w);
    if (w->act_next < w->acts_n && w->acts[w->act_next].step < next)
        next = w->acts[w->act_next].step;
    if (w->queue_n)
        next = w->now + 1;
    for (uint32_t i = 0; i < w->moves_n; i++)
        if (w->moves[i].step < next)
            next = w->moves[i].step;
    if (w->stores_n || w->plates_n || w->stacks_n) {
        int64_t items = tw_next_items(w);
        next = items < next ? items : next;
    }
    return next == TW_NEVER ? -1 : next > w->now ? next : w->now + 1;
}

int32_t tw_advance(tw_world *w, int64_t until, int64_t budget) {
    if (!w || !w->built || budget < 0)
        return TW_BAD_SIZE;
    TW_TRY(w);
    int64_t end = budget < TW_NEVER / 2 - w->acted ? w->acted + budget : TW_NEVER / 2, steps = 0;
    for (int64_t step = tw_next_step(w); step >= 0 && step < until; step = tw_next_step(w)) {
        if (w->acted >= end || ++steps > budget || w->notes_n >= TW_MOST_NOTES)
            return TW_MORE;
        tw_one_step(w, step);
    }
    return TW_DONE;
}

int32_t tw_step(tw_world *w, int64_t step) {
    if (!w || !w->built || step <= w->now || step >= TW_NEVER / 4 || (w->now < 0 && step != 0))
        return TW_BAD_SIZE;
    int64_t next = tw_next_step(w);
    if (next >= 0 && next < step)
        return TW_BAD_SIZE;
    TW_TRY(w);
    tw_one_step(w, step);
    return TW_DONE;
}

int32_t tw_do(tw_world *w, const tw_act *act) {
    if (!w || !w->built || !act || w->now < 0 || !tw_good_act(w, act))
        return TW_BAD_SIZE;
    TW_TRY(w);
    tw_perform(w, act);
    return TW_DONE;
}

/* --- reading ------------------------------------------------------------------------------------------------------ */

int64_t tw_next(const tw_world *w) {
    return w && w->built ? tw_next_step(w) : TW_BAD_SIZE;
}

int64_t tw_now(const tw_world *w) {
    return w ? w->now : TW_BAD_SIZE;
}

int64_t tw_events(const tw_world *w) {
    return w ? w->acted : TW_BAD_SIZE;
}

int32_t tw_log(tw_world *w, int32_t keep) {
    if (!w || !within(keep, TW_KEEP_NONE, TW_KEEP_ACTS))
        return TW_BAD_SIZE;
    w->keep = keep;
    return TW_DONE;
}

int32_t tw_values(tw_world *w, int32_t *values, int64_t values_n) {
    if (!w || !w->built || values_n != w->probes_n || (values_n && !values))
        return TW_BAD_SIZE;
    for (uint32_t i = 0; i < w->probes_n; i++)
        values[i] = tw_value(w, &w->probes[i]);
    return TW_DONE;
}

int32_t tw_summaries(const tw_world *w, tw_summary *into, int64_t into_n) {
    if (!w || !w->built || into_n != w->probes_n || (into_n && !into))
        return TW_BAD_SIZE;
    for (uint32_t i = 0; i < w->probes_n; i++)
        into[i] = w->probes[i].sum;
    return TW_DONE;
}

int64_t tw_notes(tw_world *w, tw_note *into, int64_t into_n) {
    if (!w || into_n < 0 || (into_n && !into))
        return TW_BAD_SIZE;
    uint32_t n = into_n < (int64_t)w->notes_n ? (uint32_t)into_n : w->notes_n;
    if (n)
        memcpy(into, w->notes, n * sizeof *into);
    for (uint32_t i = n; i < w->notes_n; i++)
        w->notes[i - n] = w->notes[i];
    w->notes_n -= n;
    return n;
}

int64_t tw_changes(tw_world *w, tw_change *into, int64_t into_n) {
    if (!w || into_n < 0 || (into_n && !into))
        return TW_BAD_SIZE;
    uint32_t n = into_n < (int64_t)w->changes_n ? (uint32_t)into_n : w->changes_n;
    if (n)
        memcpy(into, w->changes, n * sizeof *into);
    for (uint32_t i = n; i < w->changes_n; i++)
        w->changes[i - n] = w->changes[i];
    w->changes_n -= n;
    return n;
}

/* --- copying ------------------------------------------------------------------------------------------------------ */

#define TW_COPY_ARRAY(type, name)                                                                                      \
    TW_ROOM(to, name, from->name##_n);                                                                                 \
    if (from->name##_n)                                                                                                \
        memcpy(to->name, from->name, from->name##_n * sizeof(type));                                                   \
    to->name##_n = from->name##_n;
#define TW_SIZE_ARRAY(type, name)                                                                                      \
    TW_ROOM(to, name, from->name##_n);                                                                                 \
    if (from->name##_n)                                                                                                \
        memset(to->name, 0, from->name##_n * sizeof(type));                                                            \
    to->name##_n = from->name##_n;

static void copy_wheel(tw_world *to, const tw_world *from) {
    for (uint32_t word = 0; word < TW_WHEEL / 64; word++) {
        for (uint64_t bits = to->busy[word] | from->busy[word]; bits; bits &= bits - 1u) {
            uint32_t i = word * 64u + (uint32_t)__builtin_ctzll(bits);
            const tw_bucket *b = &from->wheel[i];
            tw_bucket *a = &to->wheel[i];
            if (b->n > a->room)
                a->e = tw_grow(to, a->e, &a->room, b->n, sizeof *a->e);
            if (b->n)
                memcpy(a->e, b->e, b->n * sizeof *b->e);
            a->n = b->n, a->ranks = b->ranks;
        }
        to->busy[word] = from->busy[word];
    }
}

static void copy_rest(tw_world *to, const tw_world *from) {
    to->rules = from->rules, to->ranks = from->ranks, to->shuffle = from->shuffle, to->order = from->order;
    to->x0 = from->x0, to->y0 = from->y0, to->z0 = from->z0;
    to->nx = from->nx, to->ny = from->ny, to->nz = from->nz;
    to->lowest = from->lowest, to->far_used = from->far_used;
    to->mark = 0, to->choice = 0;
    to->shape = from->shape;
}

int32_t tw_copy(tw_world *to, const tw_world *from) {
    if (!to || !from || to == from || !from->built)
        return TW_BAD_SIZE;
    TW_TRY(to);
    if (to->shape != from->shape || !from->shape) {
        TW_SHAPE(TW_COPY_ARRAY)
        TW_SCRATCH(TW_SIZE_ARRAY)
        copy_rest(to, from);
    }
    TW_STATE(TW_COPY_ARRAY)
    copy_wheel(to, from);
    to->scheduled = from->scheduled, to->now = from->now, to->acted = from->acted;
    to->hoppers_next = from->hoppers_next, to->plates_next = from->plates_next, to->looked = from->looked;
    to->act_next = from->act_next, to->queue_next = from->queue_next, to->flights = from->flights;
    to->dirty = from->dirty, to->keep = from->keep, to->turns_stale = from->turns_stale;
    to->started = from->started, to->built = true;
    return TW_DONE;
}
