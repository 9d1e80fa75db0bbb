/* Containers, hoppers, items that lie about, and the plates that feel them. */

#include "world.h"

static bool same(tw_cell a, tw_cell b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

/* The level a comparator reads off a container. */
uint32_t tw_fill(const tw_world *w, int32_t s) {
    int64_t count = w->stores[w->place[s].aux].count, room = tw_part_of(w, s)->capacity;
    return count ? (uint32_t)(1 + w->rules.fill_span * count / room) : 0;
}

static int32_t *count_of(tw_world *w, int32_t s) {
    return &w->stores[w->place[s].aux].count;
}

static bool has_room(const tw_world *w, int32_t s) {
    return w->stores[w->place[s].aux].count < tw_part_of(w, s)->capacity;
}

/* --- hoppers ------------------------------------------------------------------------------------------------------ */

/* Something has changed round the hopper: it takes its next turn when its cooldown is over. */
void tw_hopper_wake(tw_world *w, int32_t s) {
    tw_store *h = &w->stores[w->place[s].aux];
    int64_t step = h->ready > w->now ? h->ready : w->now;
    if (step < h->wake)
        h->wake = step;
    if (h->wake < w->hoppers_next)
        w->hoppers_next = h->wake;
}

/* Wake the hoppers in and beside a cell. */
void tw_wake_round(tw_world *w, tw_cell cell) {
    for (int d = 0; d < 7; d++) {
        int32_t s = tw_at_cell(w, tw_beside(cell, d));
        if (tw_is(w, s, TW_HOPPER))
            tw_hopper_wake(w, s);
    }
}

/* The container holds another number now. */
void tw_recount(tw_world *w, int32_t s, int32_t count) {
    *count_of(w, s) = count;
    w->dirty = true;
    tw_wake_round(w, tw_cell_of(w, s));
    tw_notify_of(w, s, -1);
}

/* One item goes over. Hoppers beside can do what they could not only where one was full, or the other empty. */
static void transfer(tw_world *w, int32_t from, int32_t into) {
    bool was_full = !has_room(w, from), was_empty = *count_of(w, into) == 0;
    (*count_of(w, from))--;
    (*count_of(w, into))++;
    w->dirty |= ((w->live[from].flags | w->live[into].flags) & TW_SHOWN) != 0;
    if (was_full)
        tw_wake_round(w, tw_cell_of(w, from));
    else if (w->links[from].role == TW_HOPPER)
        tw_hopper_wake(w, from);
    if (was_empty)
        tw_wake_round(w, tw_cell_of(w, into));
    else if (w->links[into].role == TW_HOPPER)
        tw_hopper_wake(w, into);
    if (w->links[from].out_n || w->links[into].out_n)
        tw_notify_of(w, from, into);
}

static bool hopper_pushes(tw_world *w, int32_t s) {
    int32_t into = tw_store_at(w, tw_beside(tw_cell_of(w, s), w->links[s].facing));
    if (*count_of(w, s) == 0 || into < 0 || !has_room(w, into))
        return false;
    tw_store *other = &w->stores[w->place[into].aux];
    bool first = w->links[into].role == TW_HOPPER && other->count == 0;
    transfer(w, s, into);
    if (first) {
        other->ready = w->now + w->rules.hopper_first_wait;
        other->wake = other->ready;
        if (other->wake < w->hoppers_next)
            w->hoppers_next = other->wake;
    }
    return true;
}

static void plate_minds(tw_world *w, tw_cell cell);

static tw_stack *oldest_stack(tw_world *w, tw_cell cell) {
    for (uint32_t i = 0; i < w->stacks_n; i++)
        if (w->stacks[i].number && w->stacks[i].resting && same(w->stacks[i].cell, cell))
            return &w->stacks[i];
    return NULL;
}

static bool hopper_pulls(tw_world *w, int32_t s) {
    tw_cell above = tw_beside(tw_cell_of(w, s), TW_UP);
    int32_t from = tw_store_at(w, above);
    if ((from < 0 && !w->stacks_n) || !has_room(w, s))
        return false;
    if (from >= 0 && *count_of(w, from) > 0) {
        transfer(w, from, s);
        return true;
    }
    tw_stack *stack = oldest_stack(w, above);
    if (!stack)
        return false;
    stack->number--;
    if (!stack->number)
        plate_minds(w, above);
    tw_recount(w, s, *count_of(w, s) + 1);
    return true;
}

static void hopper_turn(tw_world *w, int32_t s) {
    tw_store *h = &w->stores[w->place[s].aux];
    h->wake = TW_NEVER;
    if (w->links[s].in_n && tw_main(w, s) > 0)
        return;
    bool pushed = hopper_pushes(w, s), pulled = hopper_pulls(w, s);
    if (!pushed && !pulled)
        return;
    h->ready = w->now + w->rules.hopper_cooldown;
    h->wake = h->ready;
}

static void sort_turns(tw_world *w) {
    w->turn_n = 0;
    w->turns_stale = false;
    uint32_t base = w->round_n;
    for (uint32_t i = 0; i < w->stores_n; i++)
        if (tw_is(w, w->stores[i].slot, TW_HOPPER))
            TW_PUSH(w, round, (uint32_t)w->stores[i].slot);
    tw_sort_slots(w, w->round + base, w->round_n - base);
    for (uint32_t i = base; i < w->round_n; i++)
        TW_PUSH(w, turn, w->place[w->round[i]].aux);
    w->round_n = base;
}

static void hoppers(tw_world *w) {
    if (w->turns_stale)
        sort_turns(w);
    if (w->hoppers_next > w->now)
        return;
    w->hoppers_next = TW_NEVER;
    int64_t next = TW_NEVER;
    for (uint32_t i = 0; i < w->turn_n; i++) {
        tw_store *h = &w->stores[w->turn[i]];
        if (h->wake <= w->now)
            hopper_turn(w, h->slot);
    }
    for (uint32_t i = 0; i < w->turn_n; i++)
        if (w->stores[w->turn[i]].wake < next)
            next = w->stores[w->turn[i]].wake;
    w->hoppers_next = next;
}

/* --- plates ------------------------------------------------------------------------------------------------------- */

int32_t tw_creatures_at(const tw_world *w, tw_cell cell) {
    for (uint32_t i = 0; i < w->creatures_n; i++)
        if (same(w->creatures[i].cell, cell))
            return w->creatures[i].number;
    return 0;
}

static uint32_t plate_level(const tw_world *w, int32_t s) {
    const tw_part *part = tw_part_of(w, s);
    tw_cell cell = tw_cell_of(w, s);
    int64_t things = part->feels & 2 ? tw_creatures_at(w, cell) : 0;
    for (uint32_t i = 0; part->feels & 1 && i < w->stacks_n; i++)
        things += w->stacks[i].number && w->stacks[i].resting && same(w->stacks[i].cell, cell);
    if (!part->mode)
        return things ? (uint32_t)w->rules.full : 0;
    int64_t level = (things + part->counts - 1) / part->counts;
    return level > w->rules.full ? (uint32_t)w->rules.full : (uint32_t)level;
}

/* What is in the cell is not what it was: a plate there that is on minds it when it next looks, and not before. */
static void plate_minds(tw_world *w, tw_cell cell) {
    int32_t s = tw_at_cell(w, cell);
    if (!tw_is(w, s, TW_PLATE) || !w->live[s].level)
        return;
    tw_plate *plate = &w->plates[w->place[s].aux];
    int64_t every = tw_part_of(w, s)->steps;
    int64_t earliest = w->looked == w->now || plate->since == w->now ? w->now + 1 : w->now;
    plate->look = plate->since + (earliest - plate->since + every - 1) / every * every;
    if (plate->look < w->plates_next)
        w->plates_next = plate->look;
}

/* Something came to be in the cell: a plate there that is off goes on at once. */
void tw_felt(tw_world *w, tw_cell cell) {
    int32_t s = tw_at_cell(w, cell);
    if (!tw_is(w, s, TW_PLATE))
        return;
    uint32_t level = plate_level(w, s);
    if (w->live[s].level || !level) {
        plate_minds(w, cell);
        return;
    }
    w->plates[w->place[s].aux].since = w->now;
    tw_set_level(w, s, level);
    tw_changed(w, s, true);
}

/* A creature has left the cell. */
void tw_left(tw_world *w, tw_cell cell) {
    plate_minds(w, cell);
}

static void plate_looks(tw_world *w, int32_t s) {
    uint32_t level = plate_level(w, s), before = w->live[s].level;
    w->plates[w->place[s].aux].look = TW_NEVER;
    if (level == before)
        return;
    tw_set_level(w, s, level);
    tw_changed(w, s, !level);
}

static void plates(tw_world *w) {
    if (w->plates_next > w->now) {
        w->looked = w->now;
        return;
    }
    w->plates_next = TW_NEVER;
    uint32_t base = w->round_n;
    for (uint32_t i = 0; i < w->plates_n; i++)
        if (w->plates[i].look <= w->now && tw_is(w, w->plates[i].slot, TW_PLATE))
            TW_PUSH(w, round, (uint32_t)w->plates[i].slot);
    tw_sort_slots(w, w->round + base, w->round_n - base);
    for (uint32_t i = base, end = w->round_n; i < end; i++)
        plate_looks(w, (int32_t)w->round[i]);
    w->round_n = base;
    w->looked = w->now;
    for (uint32_t i = 0; i < w->plates_n; i++)
        if (w->plates[i].look < w->plates_next && tw_is(w, w->plates[i].slot, TW_PLATE))
            w->plates_next = w->plates[i].look;
}

/* --- items that lie about ------------------------------------------------------------------------------------------
 */

static bool passes(const tw_world *w, int32_t s) {
    return s == TW_EMPTY || (s >= 0 && tw_part_of(w, s)->support && w->links[s].role != TW_PLATE);
}

/* A stack is let go in that cell, which is open or holds a plate. */
void tw_let_go(tw_world *w, tw_cell cell, int32_t number) {
    tw_cell place = cell;
    while (!tw_is(w, tw_at_cell(w, place), TW_PLATE)) {
        tw_cell below = tw_beside(place, TW_DOWN);
        int32_t under = tw_at_cell(w, below);
        if (!passes(w, under) && !tw_is(w, under, TW_PLATE))
            break;
        place = below;
        if (place.z < w->lowest) {
            tw_note_add(w, (tw_note){.code = TW_ITEM_LOST, .x = cell.x, .y = cell.y, .z = cell.z, .number = number});
            return;
        }
    }
    bool here = same(place, cell);
    int64_t rests = here ? w->now : w->now + w->rules.item_rest;
    TW_PUSH(w, stacks, (tw_stack){place, number, rests, w->now + w->rules.item_vanish, here});
    w->flights += !here;
    if (here) {
        tw_wake_round(w, place);
        tw_felt(w, place);
    }
}

/* Every stack that rests in the cell is gone; how many there were. */
int32_t tw_take_stacks(tw_world *w, tw_cell cell) {
    int32_t taken = 0;
    for (tw_stack *stack = oldest_stack(w, cell); stack; stack = oldest_stack(w, cell)) {
        stack->number = 0;
        taken++;
    }
    if (taken)
        plate_minds(w, cell);
    return taken;
}

/* The ejector is due: one item goes into the container before it, or is let go there. */
void tw_eject(tw_world *w, int32_t s) {
    if (*count_of(w, s) == 0)
        return;
    tw_cell front = tw_beside(tw_cell_of(w, s), w->links[s].facing);
    int32_t into = tw_store_at(w, front), there = tw_at_cell(w, front);
    if (into >= 0) {
        if (has_room(w, into))
            transfer(w, s, into);
    } else if (there == TW_EMPTY || tw_is(w, there, TW_PLATE)) {
        tw_recount(w, s, *count_of(w, s) - 1);
        tw_let_go(w, front, 1);
    }
}

static void come_to_rest(tw_world *w) {
    for (uint32_t i = 0; w->flights && i < w->stacks_n; i++) {
        if (w->stacks[i].resting || w->stacks[i].rests > w->now)
            continue;
        w->stacks[i].resting = 1;
        w->flights--;
        w->dirty = true;
        tw_wake_round(w, w->stacks[i].cell);
        tw_felt(w, w->stacks[i].cell);
    }
}

/* Stacks whose time is over go, and those that are empty are forgotten. */
static void vanish(tw_world *w) {
    if (!w->stacks_n)
        return;
    uint32_t kept = 0;
    for (uint32_t i = 0; i < w->stacks_n; i++) {
        tw_stack stack = w->stacks[i];
        if (stack.number && stack.vanishes > w->now)
            w->stacks[kept++] = stack;
        else if (stack.number && stack.resting)
            plate_minds(w, stack.cell);
    }
    w->stacks_n = kept;
}

void tw_items_phase(tw_world *w) {
    if (w->moves_n)
        tw_landings(w);
    if (w->stores_n)
        hoppers(w);
    come_to_rest(w);
    vanish(w);
    plates(w);
}

/* The next step in which items or plates have something to do, or TW_NEVER. */
int64_t tw_next_items(const tw_world *w) {
    int64_t next = w->hoppers_next < w->plates_next ? w->hoppers_next : w->plates_next;
    if (!w->stores_n)
        next = w->plates_next;
    for (uint32_t i = 0; i < w->stacks_n; i++) {
        const tw_stack *stack = &w->stacks[i];
        int64_t step = stack->resting ? stack->vanishes : stack->rests;
        if (stack->number && step < next)
            next = step;
    }
    return next;
}
