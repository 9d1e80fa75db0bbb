/* Who hears whom: the lists of inputs of every listener, and of every source whom a change of it reaches. */

#include "world.h"

/* Whether the slot has inputs to be kept. */
bool tw_listens(const tw_world *w, int32_t s) {
    uint8_t flags = w->live[s].flags;
    if (flags & TW_INERT)
        return false;
    switch (w->links[s].role) {
    case TW_REPEATER:
    case TW_COMPARATOR:
    case TW_TORCH:
    case TW_LAMP:
    case TW_PISTON:
    case TW_HOPPER:
    case TW_EJECTOR:
        return true;
    default:
        return flags & (TW_EAGER | TW_PROBED);
    }
}

/* Whether a sensor or piston may see the slot change while it stands. */
bool tw_may_change(const tw_world *w, int32_t s) {
    return tw_real(w, s) && w->links[s].role != TW_PLAIN && w->links[s].role != TW_SOURCE;
}

/* Whether a change of what it hears notifies the slot (pistons are notified by what is near instead). */
static bool is_notified(const tw_world *w, int32_t s) {
    int role = w->links[s].role;
    return role != TW_PISTON && role != TW_WIRE && !(w->live[s].flags & TW_PROBED && role == TW_PLAIN);
}

static void sift(tw_world *w, uint32_t *slots, uint32_t at, uint32_t n) {
    uint32_t s = slots[at];
    for (uint32_t child = 2u * at + 1u; child < n; child = 2u * at + 1u) {
        if (child + 1u < n && tw_before(w, (int32_t)slots[child], (int32_t)slots[child + 1u]))
            child++;
        if (!tw_before(w, (int32_t)s, (int32_t)slots[child]))
            break;
        slots[at] = slots[child];
        at = child;
    }
    slots[at] = s;
}

/* Sort slots into the order of being notified. */
void tw_sort_slots(tw_world *w, uint32_t *slots, uint32_t n) {
    uint32_t up = 1, down = 1;
    while (up < n && !tw_before(w, (int32_t)slots[up], (int32_t)slots[up - 1u]))
        up++;
    if (up >= n)
        return;
    while (down < n && tw_before(w, (int32_t)slots[down], (int32_t)slots[down - 1u]))
        down++;
    if (down >= n) {
        for (uint32_t i = 0, j = n - 1u; i < j; i++, j--) {
            uint32_t s = slots[i];
            slots[i] = slots[j];
            slots[j] = s;
        }
        return;
    }
    if (n <= 24) {
        for (uint32_t i = 1; i < n; i++) {
            uint32_t s = slots[i], j = i;
            for (; j > 0 && tw_before(w, (int32_t)s, (int32_t)slots[j - 1u]); j--)
                slots[j] = slots[j - 1u];
            slots[j] = s;
        }
        return;
    }
    for (uint32_t i = n / 2u; i-- > 0;)
        sift(w, slots, i, n);
    for (uint32_t i = n - 1u; i > 0; i--) {
        uint32_t s = slots[0];
        slots[0] = slots[i];
        slots[i] = s;
        sift(w, slots, 0, i);
    }
}

static int32_t behind(const tw_world *w, int32_t sensor) {
    return tw_at_cell(w, tw_beside(tw_cell_of(w, sensor), w->links[sensor].facing ^ 1));
}

static int32_t in_ball(const tw_world *w, tw_cell c, uint32_t i) {
    return tw_at(w, c.x + w->ball[i].x, c.y + w->ball[i].y, c.z + w->ball[i].z);
}

/* --- all at once, when a world is built ------------------------------------------------------------------------- */

static void mark_eager(tw_world *w) {
    for (uint32_t s = 0; s < w->links_n; s++) {
        if (w->links[s].role == TW_SENSOR) {
            int32_t seen = behind(w, (int32_t)s);
            if (tw_is(w, seen, TW_WIRE))
                w->live[seen].flags |= TW_EAGER;
        }
    }
    for (uint32_t p = 0; p < w->pistons_n; p++)
        for (uint32_t i = 0; i < w->ball_n; i++) {
            int32_t near = in_ball(w, tw_cell_of(w, w->pistons[p]), i);
            if (tw_is(w, near, TW_WIRE))
                w->live[near].flags |= TW_EAGER;
        }
}

/* What a watched wire or block shows hangs on the levels of its sources. */
static void mark_shown(tw_world *w, uint32_t s) {
    for (uint32_t i = 0; w->live[s].flags & TW_PROBED && i < w->links[s].in_n; i++)
        w->live[w->ins[w->links[s].in + i] >> 4].flags |= TW_SHOWN;
}

static void keep_found(tw_world *w, uint32_t s) {
    tw_links *l = &w->links[s];
    TW_ROOM(w, ins, (uint64_t)w->ins_n + w->found_n);
    l->in = w->ins_n;
    w->place[s].in_room = w->found_n;
    for (uint32_t i = 0; i < w->found_n; i++)
        w->ins[w->ins_n + i] = w->found[i];
    w->ins_n += w->found_n;
    mark_shown(w, s);
}

/* First pass: count an entry of source s; second pass (put): write it. Each slot once for each source. */
static void one_out(tw_world *w, int32_t s, uint32_t entry, bool wire, bool put) {
    tw_links *l = &w->links[s];
    if (w->chosen[s] == w->choice)
        return;
    w->chosen[s] = w->choice;
    if (put)
        w->outs[l->out + (wire ? l->wire_n : w->fill[s] + l->out_n)] = entry;
    l->wire_n += wire;
    l->out_n += !wire;
}

/* All entries that slot s has in the lists of others. */
static void outs_of(tw_world *w, int32_t s, bool put) {
    const tw_links *l = &w->links[s];
    if (!l->in_n && !l->side_n && l->role != TW_SENSOR && l->role != TW_PISTON && w->place[s].over < 0)
        return;
    w->choice++;
    bool wire = l->role == TW_WIRE && w->live[s].flags & TW_EAGER;
    if (wire || is_notified(w, s))
        for (uint32_t i = 0; i < l->in_n + l->side_n; i++)
            one_out(w, (int32_t)(w->ins[l->in + i] >> 4), (uint32_t)s << 1 | 1u, wire, put);
    if (w->place[s].over >= 0)
        one_out(w, w->place[s].over, (uint32_t)s << 1 | 1u, false, put);
    if (l->role == TW_SENSOR) {
        int32_t seen = behind(w, s);
        if (tw_may_change(w, seen))
            one_out(w, seen, (uint32_t)s << 1, false, put);
    }
    if (l->role == TW_PISTON)
        for (uint32_t i = 0; i < w->ball_n; i++) {
            int32_t near = in_ball(w, tw_cell_of(w, s), i);
            if (tw_may_change(w, near))
                one_out(w, near, (uint32_t)s << 1 | 1u, false, put);
        }
}

/* Make all lists of a world just laid, whose slots are in the order of being notified. */
void tw_link_all(tw_world *w) {
    uint32_t n = w->links_n;
    mark_eager(w);
    tw_probe_all(w);
    for (uint32_t s = 0; s < n; s++) {
        if (tw_listens(w, (int32_t)s)) {
            tw_search(w, (int32_t)s);
            keep_found(w, s);
        }
    }
    for (uint32_t s = 0; s < n; s++)
        outs_of(w, (int32_t)s, false);
    uint64_t total = 0;
    for (uint32_t s = 0; s < n; s++) {
        tw_links *l = &w->links[s];
        l->out = (uint32_t)total;
        w->fill[s] = l->wire_n;
        w->place[s].out_room = l->wire_n + l->out_n;
        total += w->place[s].out_room;
        l->wire_n = l->out_n = 0;
    }
    TW_ROOM(w, outs, total);
    w->outs_n = (uint32_t)total;
    for (uint32_t s = 0; s < n; s++)
        outs_of(w, (int32_t)s, true);
}

/* --- one by one, when cells change ------------------------------------------------------------------------------- */

static void out_room(tw_world *w, int32_t s) {
    tw_links *l = &w->links[s];
    uint32_t n = l->wire_n + l->out_n;
    if (n < w->place[s].out_room)
        return;
    uint32_t room = n + n / 2u + 4u;
    TW_ROOM(w, outs, (uint64_t)w->outs_n + room);
    for (uint32_t i = 0; i < n; i++)
        w->outs[w->outs_n + i] = w->outs[l->out + i];
    l->out = w->outs_n;
    w->place[s].out_room = room;
    w->outs_n += room;
}

static void insert_out(tw_world *w, int32_t s, uint32_t entry) {
    out_room(w, s);
    tw_links *l = &w->links[s];
    uint32_t *list = w->outs + l->out + l->wire_n;
    uint32_t at = l->out_n;
    int32_t slot = (int32_t)(entry >> 1);
    while (at > 0 && tw_before(w, slot, (int32_t)(list[at - 1u] >> 1)))
        at--;
    if (at > 0 && (int32_t)(list[at - 1u] >> 1) == slot)
        return;
    for (uint32_t i = l->out_n; i > at; i--)
        list[i] = list[i - 1u];
    list[at] = entry;
    l->out_n++;
}

static void insert_wire(tw_world *w, int32_t s, int32_t wire) {
    out_room(w, s);
    tw_links *l = &w->links[s];
    uint32_t *list = w->outs + l->out;
    for (uint32_t i = l->wire_n + l->out_n; i > l->wire_n; i--)
        list[i] = list[i - 1u];
    list[l->wire_n++] = (uint32_t)wire << 1 | 1u;
}

static void remove_out(tw_world *w, int32_t s, int32_t slot) {
    tw_links *l = &w->links[s];
    uint32_t *list = w->outs + l->out + l->wire_n, kept = 0;
    for (uint32_t i = 0; i < l->out_n; i++)
        if ((int32_t)(list[i] >> 1) != slot)
            list[kept++] = list[i];
    l->out_n = kept;
}

static void remove_wire(tw_world *w, int32_t s, int32_t wire) {
    tw_links *l = &w->links[s];
    uint32_t *list = w->outs + l->out, kept = 0, n = l->wire_n + l->out_n, wires = l->wire_n;
    for (uint32_t i = 0; i < n; i++) {
        if (i < wires && (int32_t)(list[i] >> 1) == wire)
            l->wire_n--;
        else
            list[kept++] = list[i];
    }
}

/* Take slot s out of the lists of what it hears, or (put) put it in. */
static void outs_by_ear(tw_world *w, int32_t s, bool put) {
    bool wire = w->links[s].role == TW_WIRE && w->live[s].flags & TW_EAGER;
    uint32_t n = w->links[s].in_n + w->links[s].side_n;
    for (uint32_t i = 0; i < n && (wire || is_notified(w, s)); i++) {
        int32_t source = (int32_t)(w->ins[w->links[s].in + i] >> 4);
        if (wire && put)
            insert_wire(w, source, s);
        else if (wire)
            remove_wire(w, source, s);
        else if (put)
            insert_out(w, source, (uint32_t)s << 1 | 1u);
        else
            remove_out(w, source, s);
    }
    int32_t over = w->place[s].over;
    if (over >= 0 && put)
        insert_out(w, over, (uint32_t)s << 1 | 1u);
    else if (over >= 0)
        remove_out(w, over, s);
}

/* Look anew what slot s hears. */
void tw_link(tw_world *w, int32_t s) {
    outs_by_ear(w, s, false);
    tw_search(w, s);
    if (w->found_n > w->place[s].in_room) {
        uint32_t n = w->found_n, room = n + n / 2u + 2u;
        TW_ROOM(w, ins, (uint64_t)w->ins_n + room);
        w->links[s].in = w->ins_n;
        w->place[s].in_room = room;
        w->ins_n += room;
    }
    for (uint32_t i = 0; i < w->found_n; i++)
        w->ins[w->links[s].in + i] = w->found[i];
    mark_shown(w, (uint32_t)s);
    outs_by_ear(w, s, true);
}

static void make_eager(tw_world *w, int32_t s) {
    if (w->links[s].role != TW_WIRE || w->live[s].flags & TW_EAGER)
        return;
    w->live[s].flags |= TW_EAGER;
    w->live[s].level = 0xff; /* not known yet */
    if (w->chosen[s] != w->choice) {
        w->chosen[s] = w->choice;
        TW_PUSH(w, again, (uint32_t)s);
    }
}

/* A sensor is about to be placed that watches that cell: the level that a wire there has before it counts. */
void tw_keep_level(tw_world *w, tw_cell cell) {
    int32_t s = tw_at_cell(w, cell);
    if (!tw_is(w, s, TW_WIRE) || w->live[s].flags & TW_EAGER)
        return;
    w->live[s].flags |= TW_EAGER;
    tw_link(w, s);
    w->live[s].level = (uint8_t)tw_main(w, s);
}

/* A slot was laid into its cell: enter whoever sees it, and what it sees. */
void tw_attach(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    if (tw_may_change(w, s)) {
        for (int d = 0; d < 6; d++) {
            int32_t n = tw_at_cell(w, tw_beside(c, d));
            if (tw_is(w, n, TW_SENSOR) && w->links[n].facing == d) {
                insert_out(w, s, (uint32_t)n << 1);
                make_eager(w, s);
            }
        }
        for (uint32_t i = 0; w->pistons_n && i < w->ball_n; i++) {
            int32_t near = in_ball(w, c, i);
            if (tw_is(w, near, TW_PISTON)) {
                insert_out(w, s, (uint32_t)near << 1 | 1u);
                make_eager(w, s);
            }
        }
    }
    if (w->links[s].role == TW_SENSOR) {
        int32_t seen = behind(w, s);
        if (tw_may_change(w, seen)) {
            insert_out(w, seen, (uint32_t)s << 1);
            make_eager(w, seen);
        }
    }
    if (w->links[s].role == TW_PISTON)
        for (uint32_t i = 0; i < w->ball_n; i++) {
            int32_t near = in_ball(w, c, i);
            if (tw_may_change(w, near)) {
                insert_out(w, near, (uint32_t)s << 1 | 1u);
                make_eager(w, near);
            }
        }
}

/* A slot leaves its cell: take it out of all lists. */
void tw_detach(tw_world *w, int32_t s) {
    tw_links *l = &w->links[s];
    outs_by_ear(w, s, false);
    if (l->role == TW_SENSOR) {
        int32_t seen = behind(w, s);
        if (seen >= 0)
            remove_out(w, seen, s);
    }
    if (l->role == TW_PISTON)
        for (uint32_t i = 0; i < w->ball_n; i++) {
            int32_t near = in_ball(w, tw_cell_of(w, s), i);
            if (near >= 0)
                remove_out(w, near, s);
        }
    l->in_n = l->side_n = l->out_n = l->wire_n = 0;
    w->place[s].over = -1;
    l->timing &= ~(uint32_t)TW_OVER;
    w->live[s].flags &= (uint8_t) ~(TW_EAGER | TW_PROBED);
}
