/* Who joins, points, gives and hears, read off the cells. */

#include "world.h"

/* Whether the part carries what stands on the side of it that lies `toward`. */
bool tw_carries(const tw_world *w, int32_t s, int toward) {
    if (!tw_real(w, s) || !tw_part_of(w, s)->carries)
        return false;
    if (w->links[s].role == TW_PISTON)
        return w->place[s].posture == TW_AT_REST && w->links[s].facing != toward;
    return true;
}

/* The cell that a part there would stand on or be fixed to. */
tw_cell tw_support(const tw_part *part, tw_cell cell) {
    return tw_beside(cell, part->support == 1 ? TW_DOWN : part->facing);
}

bool tw_supported(const tw_world *w, const tw_part *part, tw_cell cell) {
    if (!part->support)
        return true;
    int d = part->support == 1 ? TW_DOWN : part->facing;
    return tw_carries(w, tw_at_cell(w, tw_beside(cell, d)), d ^ 1);
}

/* Whether what stands at side d draws a join by itself. */
static bool draws_join(const tw_world *w, int32_t n, int d) {
    if (!tw_real(w, n))
        return false;
    switch (w->links[n].role) {
    case TW_WIRE:
    case TW_TORCH:
    case TW_LEVER:
    case TW_BUTTON:
    case TW_PLATE:
    case TW_SOURCE:
    case TW_COMPARATOR:
        return true;
    case TW_REPEATER:
        return w->links[n].facing >> 1 == d >> 1;
    case TW_SENSOR:
        return w->links[n].facing == (d ^ 1);
    default:
        return false;
    }
}

/* Bit d: the wire in cell c is joined on side d. */
static int joins(const tw_world *w, tw_cell c) {
    int mask = 0;
    bool roofed = tw_conducts(w, tw_at(w, c.x, c.y, c.z + 1));
    for (int d = 0; d < 4; d++) {
        int32_t x = c.x + TW_DX[d], y = c.y + TW_DY[d];
        int32_t n = tw_at(w, x, y, c.z);
        if (draws_join(w, n, d) || (!roofed && tw_carries(w, n, TW_UP) && tw_is(w, tw_at(w, x, y, c.z + 1), TW_WIRE)) ||
            (!tw_conducts(w, n) && tw_is(w, tw_at(w, x, y, c.z - 1), TW_WIRE)))
            mask |= 1 << d;
    }
    return mask;
}

/* Bit d: the wire points to side d. */
int tw_points(const tw_world *w, int32_t wire) {
    int joined = joins(w, tw_cell_of(w, wire));
    int along_y = joined & 3, along_x = joined & 12;
    if (!joined)
        return 15;
    if (w->rules.through) {
        if (along_x && along_y)
            return 0;
        return along_x ? (along_x & 4) << 1 | (along_x & 8) >> 1 : (along_y & 1) << 1 | (along_y & 2) >> 1;
    }
    if (!along_x)
        return 3;
    if (!along_y)
        return 12;
    return joined;
}

/* Whether part n gives its level to what listens beside it in direction d. */
static bool gives(const tw_world *w, int32_t n, int d) {
    switch (w->links[n].role) {
    case TW_REPEATER:
    case TW_COMPARATOR:
    case TW_SENSOR:
        return w->links[n].facing == d;
    case TW_TORCH:
        return w->links[n].facing != d;
    case TW_LEVER:
    case TW_BUTTON:
    case TW_PLATE:
    case TW_SOURCE:
        return true;
    default:
        return false;
    }
}

/* Whether part n powers a conducting cell strongly that lies in direction d. */
static bool gives_strongly(const tw_world *w, int32_t n, int d) {
    switch (w->links[n].role) {
    case TW_REPEATER:
    case TW_COMPARATOR:
    case TW_SENSOR:
    case TW_LEVER:
    case TW_BUTTON:
        return w->links[n].facing == d;
    case TW_TORCH:
        return d == TW_UP;
    case TW_PLATE:
        return d == TW_DOWN;
    default:
        return false;
    }
}

static void add_source(tw_world *w, int32_t s, uint32_t loss) {
    if (w->seen[s] == w->mark)
        return;
    w->seen[s] = w->mark;
    TW_PUSH(w, found, (uint32_t)s << 4 | loss);
}

static void add_wire(tw_world *w, int32_t s) {
    if (w->seen[s] == w->mark)
        return;
    w->seen[s] = w->mark;
    TW_PUSH(w, front, (uint32_t)s);
}

/* What powers the conducting cell c strongly and, if `weakly`, the wires that power it. */
static void power_of(tw_world *w, tw_cell c, uint32_t loss, bool weakly) {
    int32_t near[6];
    tw_around(w, c, near);
    for (int d = 0; d < 6; d++) {
        int32_t n = near[d];
        if (!tw_real(w, n))
            continue;
        if (w->links[n].role != TW_WIRE) {
            if (gives_strongly(w, n, d ^ 1))
                add_source(w, n, loss);
        } else if (weakly && (d == TW_UP || (d < 4 && tw_points(w, n) >> (d ^ 1) & 1))) {
            add_wire(w, n);
        }
    }
}

/* What a part in cell c that is no wire hears from direction d; with `any_shape` a wire there need not point at it. */
static void hear(tw_world *w, tw_cell c, int d, bool any_shape) {
    tw_cell there = tw_beside(c, d);
    int32_t n = tw_at_cell(w, there);
    if (!tw_real(w, n))
        return;
    if (w->links[n].role == TW_WIRE) {
        if (d == TW_UP || (d < 4 && (any_shape || tw_points(w, n) >> (d ^ 1) & 1)))
            add_wire(w, n);
    } else if (gives(w, n, d ^ 1)) {
        add_source(w, n, 0);
    }
    if (tw_conducts(w, n))
        power_of(w, there, 0, true);
}

/* Sources that the wire hears itself. */
static void wire_sources(tw_world *w, tw_cell c, const int32_t near[6], uint32_t loss) {
    for (int d = 0; d < 6; d++) {
        int32_t n = near[d];
        if (!tw_real(w, n))
            continue;
        if (gives(w, n, d ^ 1))
            add_source(w, n, loss);
        if (tw_conducts(w, n))
            power_of(w, tw_beside(c, d), loss, false);
    }
}

/* The wires from which level flows into the wire in cell c. */
static void wire_flows(tw_world *w, tw_cell c, const int32_t near[6]) {
    bool roofed = tw_conducts(w, near[TW_UP]);
    for (int d = 0; d < 4; d++) {
        int32_t x = c.x + TW_DX[d], y = c.y + TW_DY[d];
        int32_t n = near[d];
        if (tw_is(w, n, TW_WIRE)) {
            add_wire(w, n);
            continue;
        }
        bool full = tw_conducts(w, n);
        if (full && !roofed) {
            int32_t upper = tw_at(w, x, y, c.z + 1);
            if (tw_is(w, upper, TW_WIRE))
                add_wire(w, upper);
        }
        if (!full) {
            int32_t lower = tw_at(w, x, y, c.z - 1);
            if (tw_is(w, lower, TW_WIRE))
                add_wire(w, lower);
        }
    }
}

/* Follow the wires in `front` back to their sources, as far as a level lasts. */
static void follow(tw_world *w) {
    uint32_t at = 0, loss = 0;
    while (at < w->front_n) {
        uint32_t end = w->front_n;
        bool onward = loss + (uint32_t)w->rules.loss < (uint32_t)w->rules.top;
        for (; at < end; at++) {
            tw_cell c = tw_cell_of(w, (int32_t)w->front[at]);
            int32_t near[6];
            tw_around(w, c, near);
            wire_sources(w, c, near, loss);
            if (onward)
                wire_flows(w, c, near);
        }
        loss += (uint32_t)w->rules.loss;
    }
}

static void begin(tw_world *w) {
    if (++w->mark == 0) {
        for (uint32_t i = 0; i < w->seen_n; i++)
            w->seen[i] = 0;
        w->mark = 1;
    }
    w->front_n = 0;
}

static void search_flanks(tw_world *w, int32_t s, tw_cell c) {
    int facing = w->links[s].facing;
    bool comparator = w->links[s].role == TW_COMPARATOR;
    for (int d = 0; d < 4; d++) {
        if (d >> 1 == facing >> 1)
            continue;
        int32_t n = tw_at_cell(w, tw_beside(c, d));
        if (!tw_real(w, n))
            continue;
        int role = w->links[n].role;
        bool faces = w->links[n].facing == (d ^ 1);
        if ((role == TW_REPEATER || role == TW_COMPARATOR) && faces)
            add_source(w, n, 0);
        if (comparator && (role == TW_SOURCE || (role == TW_SENSOR && faces)))
            add_source(w, n, 0);
        if (comparator && role == TW_WIRE)
            add_wire(w, n);
    }
}

/* The container that a comparator reads, and whether through a cell. */
static void search_over(tw_world *w, int32_t s, tw_cell c) {
    int back = w->links[s].facing ^ 1;
    tw_cell behind = tw_beside(c, back);
    w->place[s].over = tw_store_at(w, behind);
    w->place[s].over_far = 0;
    if (w->place[s].over < 0 && tw_conducts(w, tw_at_cell(w, behind))) {
        w->place[s].over = tw_store_at(w, tw_beside(behind, back));
        w->place[s].over_far = w->place[s].over >= 0;
    }
    w->links[s].timing &= ~(uint32_t)TW_OVER;
    if (w->place[s].over >= 0)
        w->links[s].timing |= TW_OVER;
}

static void search_ahead(tw_world *w, int32_t s, tw_cell c) {
    int facing = w->links[s].facing;
    int32_t n = tw_at_cell(w, tw_beside(c, facing));
    bool acts = tw_real(w, n) && (w->links[n].role == TW_REPEATER || w->links[n].role == TW_COMPARATOR);
    w->links[s].timing &= ~(uint32_t)TW_AHEAD;
    if (acts && w->links[n].facing != (facing ^ 1))
        w->links[s].timing |= TW_AHEAD;
}

static void search_piston(tw_world *w, int32_t s, tw_cell c) {
    for (int d = 0; d < 6; d++)
        if (d != w->links[s].facing)
            hear(w, c, d, false);
    if (w->rules.hears_above)
        for (int d = 0; d < 6; d++)
            if (d != TW_DOWN)
                hear(w, tw_beside(c, TW_UP), d, false);
}

/* All that slot s hears: found[0 .. links[s].in_n) by its main port, the next side_n by its flanks. */
void tw_search(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    int role = w->links[s].role;
    begin(w);
    w->found_n = 0;
    w->links[s].side_n = 0;
    if (role == TW_WIRE) {
        add_wire(w, s);
    } else if (role == TW_REPEATER || role == TW_COMPARATOR) {
        hear(w, c, w->links[s].facing ^ 1, true);
    } else if (role == TW_TORCH) {
        hear(w, c, w->links[s].facing, false);
    } else if (role == TW_PISTON) {
        search_piston(w, s, c);
    } else if (role == TW_LAMP || role == TW_HOPPER || role == TW_EJECTOR) {
        for (int d = 0; d < 6; d++)
            hear(w, c, d, false);
    } else if (tw_conducts(w, s)) {
        power_of(w, c, 0, true);
    }
    follow(w);
    w->links[s].in_n = w->found_n;
    if (role == TW_REPEATER || role == TW_COMPARATOR) {
        begin(w);
        search_flanks(w, s, c);
        follow(w);
        w->links[s].side_n = w->found_n - w->links[s].in_n;
        search_ahead(w, s, c);
    }
    if (role == TW_COMPARATOR)
        search_over(w, s, c);
}
