/* What parts do when they are notified, and when they come due. */

#include "world.h"

static bool locked(const tw_world *w, int32_t s) {
    return w->links[s].side_n && tw_sides(w, s) > 0;
}

static int32_t repeater_priority(const tw_world *w, int32_t s) {
    if (w->live[s].flags & TW_AHEAD)
        return w->rules.repeater_ahead;
    return w->live[s].level ? w->rules.repeater_off : w->rules.repeater_on;
}

static uint32_t comparator_level(const tw_world *w, int32_t s) {
    uint32_t rear = tw_main(w, s), side = tw_sides(w, s);
    int32_t over = w->place[s].over;
    if (over >= 0 && (!w->place[s].over_far || rear < (uint32_t)w->rules.full))
        rear = tw_fill(w, over);
    if (tw_part_of(w, s)->mode)
        return rear > side ? rear - side : 0;
    return rear >= side ? rear : 0;
}

static void notify_torch(tw_world *w, int32_t s) {
    if (w->live[s].flags & (TW_DEAF | TW_WAITING))
        return;
    if ((tw_main(w, s) > 0) == (w->live[s].level > 0))
        tw_schedule(w, s, tw_part_of(w, s)->steps, 0);
}

static void notify_lamp(tw_world *w, int32_t s) {
    bool powered = tw_main(w, s) > 0;
    if (powered && !w->live[s].level) {
        tw_set_level(w, s, (uint32_t)w->rules.full);
        tw_changed(w, s, true);
    } else if (!powered && w->live[s].level && !(w->live[s].flags & TW_WAITING)) {
        tw_schedule(w, s, tw_part_of(w, s)->steps, 0);
    }
}

static void notify_ejector(tw_world *w, int32_t s) {
    bool powered = tw_main(w, s) > 0, before = w->live[s].flags & TW_POWERED;
    if (powered == before)
        return;
    w->live[s].flags ^= TW_POWERED;
    if (powered && !(w->live[s].flags & TW_WAITING))
        tw_schedule(w, s, tw_part_of(w, s)->steps, 0);
}

/* Slot s is notified that something which concerns it may have changed. */
void tw_notify(tw_world *w, int32_t s) {
    uint8_t flags = w->live[s].flags;
    if (flags & TW_INERT)
        return;
    switch (w->links[s].role) {
    case TW_REPEATER:
        if (!(flags & TW_WAITING) && (tw_main(w, s) > 0) != (w->live[s].level > 0) && !locked(w, s))
            tw_schedule(w, s, tw_part_of(w, s)->steps, repeater_priority(w, s));
        break;
    case TW_COMPARATOR:
        if (!(flags & TW_WAITING) && comparator_level(w, s) != w->live[s].level)
            tw_schedule(w, s, tw_part_of(w, s)->steps,
                        flags & TW_AHEAD ? w->rules.comparator_ahead : w->rules.comparator_else);
        break;
    case TW_TORCH:
        notify_torch(w, s);
        break;
    case TW_LAMP:
        notify_lamp(w, s);
        break;
    case TW_SENSOR:
        if (!w->live[s].level && !(flags & TW_WAITING) && w->started)
            tw_schedule(w, s, tw_part_of(w, s)->steps, 0);
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

void tw_set_level(tw_world *w, int32_t s, uint32_t level) {
    w->live[s].level = (uint8_t)level;
    w->dirty = true;
}

static bool refresh_wires(tw_world *w, int32_t s) {
    const tw_links *l = &w->links[s];
    bool any = false;
    for (uint32_t i = 0; i < l->wire_n; i++) {
        int32_t wire = (int32_t)(w->outs[l->out + i] >> 1);
        uint8_t level = (uint8_t)tw_main(w, wire);
        if (level == w->live[wire].level)
            continue;
        w->live[wire].level = level;
        any = true;
        const tw_links *m = &w->links[wire];
        for (uint32_t k = 0; k < m->out_n; k++)
            TW_PUSH(w, round, w->outs[m->out + m->wire_n + k] >> 1);
    }
    return any;
}

static void notify_round(tw_world *w, uint32_t base) {
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

/* The level of slot s has changed; `flipped`: from on to off or back. All that hears or sees it is notified. */
void tw_changed(tw_world *w, int32_t s, bool flipped) {
    uint32_t base = w->round_n;
    if (w->links[s].wire_n && refresh_wires(w, s)) {
        push_outs(w, s, flipped);
        notify_round(w, base);
        return;
    }
    uint32_t at = w->links[s].out + w->links[s].wire_n, end = at + w->links[s].out_n;
    for (; at < end; at++)
        if (flipped || w->outs[at] & 1u)
            tw_notify(w, (int32_t)(w->outs[at] >> 1));
}

/* The counts of one or two containers have changed at once (b may be -1). */
void tw_notify_of(tw_world *w, int32_t a, int32_t b) {
    uint32_t base = w->round_n;
    push_outs(w, a, false);
    if (b >= 0)
        push_outs(w, b, false);
    notify_round(w, base);
}

static void due_repeater(tw_world *w, int32_t s) {
    if (locked(w, s))
        return;
    bool input = tw_main(w, s) > 0, on = w->live[s].level > 0;
    if (on && input)
        return;
    tw_set_level(w, s, on ? 0 : (uint32_t)w->rules.full);
    tw_changed(w, s, true);
    if (!on && !input && !(w->live[s].flags & TW_WAITING))
        tw_schedule(w, s, tw_part_of(w, s)->steps, w->rules.repeater_off);
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
    bool powered = tw_main(w, s) > 0, lit = w->live[s].level > 0;
    w->live[s].flags &= (uint8_t)~TW_DEAF;
    if (powered != lit)
        return;
    tw_set_level(w, s, lit ? 0 : (uint32_t)w->rules.full);
    if (lit && burns_out(w, s)) {
        w->live[s].flags |= TW_DEAF;
        tw_schedule(w, s, w->rules.burnout_rest, 0);
        tw_cell c = tw_cell_of(w, s);
        tw_note_add(w, (tw_note){.code = TW_BURNT_OUT, .x = c.x, .y = c.y, .z = c.z, .kind = tw_part_of(w, s)->kind});
    }
    tw_changed(w, s, true);
}

static void due_sensor(tw_world *w, int32_t s) {
    bool on = w->live[s].level > 0;
    tw_set_level(w, s, on ? 0 : (uint32_t)w->rules.full);
    if (!on)
        tw_schedule(w, s, w->rules.sensor_pulse, 0);
    tw_changed(w, s, true);
}

/* The event of slot s is due; it is no longer outstanding. */
void tw_due(tw_world *w, int32_t s) {
    switch (w->links[s].role) {
    case TW_REPEATER:
        due_repeater(w, s);
        break;
    case TW_COMPARATOR:
        due_comparator(w, s);
        break;
    case TW_TORCH:
        due_torch(w, s);
        break;
    case TW_LAMP:
        if (!w->live[s].level || tw_main(w, s) > 0)
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
