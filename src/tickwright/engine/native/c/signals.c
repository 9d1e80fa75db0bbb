/* What parts do when they are notified, and when they come due. */

#include "world.h"

TW_QUICK bool is_powered(const tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    return tw_any(w, w->ins + l->in, l->in_n);
}

TW_QUICK bool is_locked(const tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    return l->side_n && tw_any(w, w->ins + l->in + l->in_n, l->side_n);
}

static uint32_t read_over(const tw_world *w, int32_t s, uint32_t rear) {
    const tw_place *p = &w->place[s];
    return p->over_far && rear >= (uint32_t)w->rules.full ? rear : tw_fill(w, p->over);
}

static inline uint32_t comparator_level(const tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    const uint32_t *in = w->ins + l->in;
    uint32_t rear = tw_heard(w, in, l->in_n), side = tw_heard(w, in + l->in_n, l->side_n);
    if (l->timing & TW_OVER)
        rear = read_over(w, s, rear);
    if (l->timing & TW_DIFFERENCE)
        return rear > side ? rear - side : 0;
    return rear >= side ? rear : 0;
}

TW_QUICK void notify_repeater(tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    bool on = w->live[s].level > 0;
    if (w->live[s].flags & TW_WAITING || is_powered(w, s) == on || is_locked(w, s))
        return;
    uint32_t rank = on ? w->ranks.repeater_off : w->ranks.repeater_on;
    schedule(w, s, l->timing >> TW_TIMING, l->timing & TW_AHEAD ? w->ranks.repeater_ahead : rank);
}

static inline void notify_comparator(tw_world *w, int32_t s) {
    uint32_t timing = w->links[s].timing;
    if (w->live[s].flags & TW_WAITING || comparator_level(w, s) == w->live[s].level)
        return;
    schedule(w, s, timing >> TW_TIMING, timing & TW_AHEAD ? w->ranks.comparator_ahead : w->ranks.comparator_else);
}

static void notify_torch(tw_world *w, int32_t s) {
    if (w->live[s].flags & (TW_DEAF | TW_WAITING))
        return;
    if (is_powered(w, s) == (w->live[s].level > 0))
        tw_schedule(w, s, w->links[s].timing >> TW_TIMING);
}

static void notify_lamp(tw_world *w, int32_t s) {
    bool powered = is_powered(w, s);
    if (powered && !w->live[s].level) {
        tw_set_level(w, s, (uint32_t)w->rules.full);
        tw_changed(w, s, true);
    } else if (!powered && w->live[s].level && !(w->live[s].flags & TW_WAITING)) {
        tw_schedule(w, s, w->links[s].timing >> TW_TIMING);
    }
}

static void notify_ejector(tw_world *w, int32_t s) {
    bool powered = is_powered(w, s), before = w->live[s].flags & TW_POWERED;
    if (powered == before)
        return;
    w->live[s].flags ^= TW_POWERED;
    if (powered && !(w->live[s].flags & TW_WAITING))
        tw_schedule(w, s, w->links[s].timing >> TW_TIMING);
}

/* Slot s is notified that something which concerns it may have changed. */
void tw_notify(tw_world *w, int32_t s) {
    uint8_t flags = w->live[s].flags;
    if (flags & TW_INERT)
        return;
    switch (w->links[s].role) {
    case TW_REPEATER:
        notify_repeater(w, s);
        break;
    case TW_COMPARATOR:
        notify_comparator(w, s);
        break;
    case TW_TORCH:
        notify_torch(w, s);
        break;
    case TW_LAMP:
        notify_lamp(w, s);
        break;
    case TW_SENSOR:
        if (!w->live[s].level && !(flags & TW_WAITING) && w->started)
            tw_schedule(w, s, w->links[s].timing >> TW_TIMING);
        break;
    case TW_PISTON:
        tw_piston_look(w, s);
        break;
    case TW_HOPPER:
        tw_hopper_wake(w, s);
        break;
    case TW_EJECTOR:
        notify_ejector(w, s);
        break;
    case TW_PLATE:
    case TW_PLAIN:
    case TW_SOURCE:
    case TW_WIRE:
    case TW_LEVER:
    case TW_BUTTON:
    case TW_CRATE:
    default: /* these hear nothing */
        break;
    }
}

static void refresh_wires(tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    for (uint32_t i = 0; i < l->wire_n; i++) {
        int32_t wire = (int32_t)(w->outs[l->out + i] >> 1);
        uint8_t level = (uint8_t)tw_main(w, wire);
        if (level == w->live[wire].level)
            continue;
        w->live[wire].level = level;
        const tw_links *m = &w->links[wire];
        for (uint32_t k = 0; k < m->out_n; k++)
            TW_PUSH(w, round, w->outs[m->out + m->wire_n + k] >> 1);
    }
}

void tw_notify_round(tw_world *w, uint32_t base) {
    tw_sort_slots(w, w->round + base, w->round_n - base);
    for (uint32_t i = base, end = w->round_n; i < end; i++)
        if (i == base || w->round[i] != w->round[i - 1u])
            tw_notify(w, (int32_t)w->round[i]);
    w->round_n = base;
}

static void push_outs(tw_world *w, int32_t s, bool flipped) {
    const tw_links *l = &w->links[s];
    for (uint32_t i = 0; i < l->out_n; i++) {
        uint32_t entry = w->outs[l->out + l->wire_n + i];
        if (flipped || entry & 1u)
            TW_PUSH(w, round, entry >> 1);
    }
}

/* As tw_changed where wires whose level is kept change with it: the lists are merged. */
TW_RARE static void changed_with_wires(tw_world *w, int32_t s, bool flipped) {
    uint32_t base = w->round_n;
    refresh_wires(w, s);
    push_outs(w, s, flipped);
    tw_notify_round(w, base);
}

/* The level of slot s has changed; `flipped`: from on to off or back. All that hears or sees it is notified. */
TW_QUICK void changed(tw_world *w, int32_t s, bool flipped) {
    const tw_links *l = &w->links[s];
    if (l->wire_n) {
        changed_with_wires(w, s, flipped);
        return;
    }
    for (uint32_t at = l->out, end = at + l->out_n; at < end; at++) {
        uint32_t entry = w->outs[at], heard = entry >> 1;
        if (!flipped && !(entry & 1u))
            continue;
        if (w->links[heard].role == TW_REPEATER && !(w->live[heard].flags & TW_INERT))
            notify_repeater(w, (int32_t)heard);
        else
            tw_notify(w, (int32_t)heard);
    }
}

void tw_changed(tw_world *w, int32_t s, bool flipped) {
    changed(w, s, flipped);
}

/* The counts of one or two containers have changed at once (b may be -1). */
void tw_notify_of(tw_world *w, int32_t a, int32_t b) {
    uint32_t base = w->round_n;
    push_outs(w, a, false);
    if (b >= 0)
        push_outs(w, b, false);
    tw_notify_round(w, base);
}

TW_QUICK void due_repeater(tw_world *w, int32_t s) {
    if (is_locked(w, s))
        return;
    bool input = is_powered(w, s), on = w->live[s].level > 0;
    if (on && input)
        return;
    tw_set_level(w, s, on ? 0 : (uint32_t)w->rules.full);
    changed(w, s, true);
    if (!on && !input && !(w->live[s].flags & TW_WAITING))
        schedule(w, s, w->links[s].timing >> TW_TIMING, w->ranks.repeater_off);
}

static void due_comparator(tw_world *w, int32_t s) {
    uint32_t level = comparator_level(w, s), before = w->live[s].level;
    if (level == before)
        return;
    tw_set_level(w, s, level);
    tw_changed(w, s, (level > 0) != (before > 0));
}

/* Keep the step of a switch-off; whether the torch burns out by it. */
static bool burns_out(tw_world *w, int32_t s) {
    tw_torch *t = &w->torches[w->place[s].aux];
    uint32_t count = (uint32_t)w->rules.burnout_count;
    if (t->n == t->room && t->room < count) {
        uint32_t room = t->room * 2u + 4u < count ? t->room * 2u + 4u : count;
        TW_ROOM(w, offs, (uint64_t)w->offs_n + room);
        for (uint32_t i = 0; i < t->n; i++)
            w->offs[w->offs_n + i] = w->offs[t->at + (t->head + i) % t->room];
        *t = (tw_torch){w->offs_n, room, t->n, 0};
        w->offs_n += room;
    }
    if (t->n == count) {
        t->head = (t->head + 1u) % t->room;
        t->n--;
    }
    w->offs[t->at + (t->head + t->n) % t->room] = w->now;
    t->n++;
    return t->n == count && w->now - w->offs[t->at + t->head] <= w->rules.burnout_window;
}

static void due_torch(tw_world *w, int32_t s) {
    bool powered = is_powered(w, s), lit = w->live[s].level > 0;
    w->live[s].flags &= (uint8_t)~TW_DEAF;
    if (powered != lit)
        return;
    tw_set_level(w, s, lit ? 0 : (uint32_t)w->rules.full);
    if (lit && burns_out(w, s)) {
        w->live[s].flags |= TW_DEAF;
        tw_schedule(w, s, w->rules.burnout_rest);
        tw_cell c = tw_cell_of(w, s);
        tw_note_add(w, (tw_note){.code = TW_BURNT_OUT, .x = c.x, .y = c.y, .z = c.z, .kind = tw_part_of(w, s)->kind});
    }
    tw_changed(w, s, true);
}

static void due_sensor(tw_world *w, int32_t s) {
    bool on = w->live[s].level > 0;
    tw_set_level(w, s, on ? 0 : (uint32_t)w->rules.full);
    if (!on)
        tw_schedule(w, s, w->rules.sensor_pulse);
    tw_changed(w, s, true);
}

/* The event of slot s, no repeater, is due; it is no longer outstanding. */
static void due_other(tw_world *w, int32_t s) {
    switch (w->links[s].role) {
    case TW_COMPARATOR:
        due_comparator(w, s);
        break;
    case TW_TORCH:
        due_torch(w, s);
        break;
    case TW_LAMP:
        if (!w->live[s].level || is_powered(w, s))
            break;
        tw_set_level(w, s, 0);
        tw_changed(w, s, true);
        break;
    case TW_BUTTON:
        tw_set_level(w, s, 0);
        tw_changed(w, s, true);
        break;
    case TW_SENSOR:
        due_sensor(w, s);
        break;
    case TW_EJECTOR:
        tw_eject(w, s);
        break;
    case TW_REPEATER: /* see tw_due_parts */
    case TW_PLAIN:
    case TW_SOURCE:
    case TW_WIRE:
    case TW_LEVER:
    case TW_PLATE:
    case TW_PISTON:
    case TW_HOPPER:
    case TW_CRATE:
    default: /* these schedule nothing */
        break;
    }
}

/* The events of the step now, by rank and in the order of scheduling; none comes to be due in it meanwhile. */
void tw_due_parts(tw_world *w) {
    uint32_t at = (uint32_t)w->now % TW_WHEEL;
    const tw_bucket *b = &w->wheel[at];
    if (!b->n)
        return;
    w->acted += b->n;
    for (uint32_t ranks = b->ranks; ranks; ranks &= ranks - 1u) {
        uint32_t rank = (uint32_t)__builtin_ctz(ranks);
        for (const tw_event *e = b->e, *end = e + b->n; e < end; e++) {
            uint32_t s = e->what >> 3;
            if ((e->what & 7u) != rank)
                continue;
            w->live[s].flags &= (uint8_t)~TW_WAITING;
            if (w->links[s].role == TW_REPEATER)
                due_repeater(w, (int32_t)s);
            else
                due_other(w, (int32_t)s);
        }
    }
    tw_empty_bucket(w, at);
}
