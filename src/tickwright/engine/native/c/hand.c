/* What the hand does, and what it cannot do. */

#include "world.h"

void tw_note_add(tw_world *w, tw_note note) {
    note.step = w->now;
    TW_PUSH(w, notes, note);
}

static void refuse(tw_world *w, const tw_act *act, int verb, int code, int32_t kind) {
    tw_note_add(w, (tw_note){.code = code, .verb = verb, .x = act->x, .y = act->y, .z = act->z, .kind = kind});
}

/* These do an act; each gives what it was to a trigger: nothing, worked or let go. */

static int set_switch(tw_world *w, int32_t s, bool on) {
    if ((w->live[s].level > 0) == on)
        return 0;
    tw_set_level(w, s, on ? (uint32_t)w->rules.full : 0);
    tw_changed(w, s, true);
    return on ? TW_WORKED : TW_LET_GO;
}

static int press(tw_world *w, int32_t s, int32_t length) {
    if (w->live[s].level)
        return 0;
    tw_set_level(w, s, (uint32_t)w->rules.full);
    tw_schedule(w, s, length ? length : tw_part_of(w, s)->steps);
    tw_changed(w, s, true);
    return TW_WORKED;
}

static tw_creature *creature_at(tw_world *w, tw_cell c) {
    for (uint32_t i = 0; i < w->creatures_n; i++)
        if (w->creatures[i].cell.x == c.x && w->creatures[i].cell.y == c.y && w->creatures[i].cell.z == c.z)
            return &w->creatures[i];
    return NULL;
}

static int tread(tw_world *w, tw_cell c) {
    tw_creature *creature = creature_at(w, c);
    if (creature)
        creature->number++;
    else
        TW_PUSH(w, creatures, (tw_creature){c, 1});
    tw_felt(w, c);
    return TW_WORKED;
}

static int leave(tw_world *w, const tw_act *act, tw_cell c) {
    tw_creature *creature = creature_at(w, c);
    if (!creature || !creature->number) {
        refuse(w, act, TW_LEAVE, TW_REFUSED_CREATURE, 0);
        return 0;
    }
    creature->number--;
    tw_left(w, c);
    return TW_LET_GO;
}

static int store_act(tw_world *w, const tw_act *act, int verb, int32_t s) {
    int32_t count = w->stores[w->place[s].aux].count, room = tw_part_of(w, s)->capacity - count;
    int32_t most = verb == TW_PUT ? room : count;
    int32_t number = act->number < most ? act->number : most;
    if (!number) {
        refuse(w, act, verb, verb == TW_PUT ? TW_REFUSED_FULL : TW_REFUSED_NONE, 0);
        return 0;
    }
    tw_recount(w, s, verb == TW_PUT ? count + number : count - number);
    return verb == TW_PUT ? TW_WORKED : TW_LET_GO;
}

static void clear(tw_world *w, const tw_act *act, tw_cell c, int32_t s) {
    if (s == TW_EMPTY) {
        refuse(w, act, TW_CLEAR, TW_REFUSED_CLEAR, 0);
        return;
    }
    tw_forget_piston(w, s);
    tw_lift(w, s);
    tw_break_around(w, c);
    tw_end_edit(w, true);
}

/* Whether the part that was placed looks just like what stood there. */
static bool looks_alike(const tw_world *w, int32_t before, uint8_t level, int32_t after) {
    const tw_part *a = tw_part_of(w, before), *b = tw_part_of(w, after);
    bool lever = w->links[after].role == TW_LEVER; /* whose mode is how it stood at the start, which nobody sees */
    return a->kind == b->kind && a->facing == b->facing && (lever || a->mode == b->mode) && a->steps == b->steps &&
           a->counts == b->counts && (w->links[after].role == TW_WIRE || (level > 0) == (w->live[after].level > 0));
}

static void place(tw_world *w, const tw_act *act, tw_cell c, int32_t before) {
    const tw_part *part = &w->palette[act->code];
    if (!tw_supported(w, part, c)) {
        tw_cell on = tw_support(part, c);
        refuse(w, act, TW_PLACE, TW_REFUSED_SUPPORT, part->kind);
        tw_note *note = &w->notes[w->notes_n - 1u];
        note->x2 = on.x, note->y2 = on.y, note->z2 = on.z;
        return;
    }
    uint8_t level = before >= 0 ? w->live[before].level : 0;
    if (part->role == TW_SENSOR)
        tw_keep_level(w, tw_beside(c, part->facing ^ 1));
    if (before >= 0) {
        tw_forget_piston(w, before);
        tw_lift(w, before);
    }
    int32_t s = tw_slot(w, c, (uint16_t)act->code);
    tw_touch(w, c);
    TW_PUSH(w, laid, s);
    tw_break_around(w, c);
    tw_end_edit(w, before < 0 || !looks_alike(w, before, level, s));
    tw_felt(w, c);
}

static int act_on(tw_world *w, const tw_act *act, int verb, tw_cell c, int32_t s) {
    switch (verb) {
    case TW_PRESS:
        return press(w, s, act->length);
    case TW_FLIP:
        return set_switch(w, s, !w->live[s].level);
    case TW_ON:
    case TW_OFF:
        return set_switch(w, s, verb == TW_ON);
    case TW_DROP:
        tw_let_go(w, c, act->number);
        return TW_WORKED;
    case TW_TAKE:
    case TW_PUT:
        if (s >= 0 && tw_is_store(w->links[s].role))
            return store_act(w, act, verb, s);
        if (tw_take_stacks(w, c))
            return TW_LET_GO;
        refuse(w, act, verb, TW_REFUSED_LIES, 0);
        return 0;
    case TW_TREAD:
        return tread(w, c);
    case TW_LEAVE:
        return leave(w, act, c);
    case TW_PLACE:
        place(w, act, c, s);
        return 0;
    case TW_CLEAR:
        clear(w, act, c, s);
        return 0;
    default: /* the verb was checked when the script came */
        return 0;
    }
}

/* Do one act, or note why it cannot be done; what it was to a trigger in that cell: 0, TW_WORKED or TW_LET_GO. */
int tw_perform(tw_world *w, const tw_act *act) {
    const int32_t open_acts = 1 << TW_DROP | 1 << TW_TAKE | 1 << TW_TREAD | 1 << TW_LEAVE;
    tw_cell c = {act->x, act->y, act->z};
    int32_t s = tw_at_cell(w, c);
    int verb = act->verb;
    if (verb == TW_USUAL)
        verb = s >= 0 ? tw_part_of(w, s)->act : act->instead;
    if (verb < 0 || verb == TW_USUAL)
        verb = s == TW_EMPTY ? TW_DROP : TW_PRESS;
    w->dirty = true;
    if (s < TW_EMPTY) {
        refuse(w, act, verb, TW_REFUSED_ARM, 0);
        return 0;
    }
    if (s >= 0 && !tw_real(w, s)) {
        refuse(w, act, verb, TW_REFUSED_MOVING, tw_part_of(w, s)->kind);
        return 0;
    }
    if (verb != TW_PLACE && verb != TW_CLEAR) {
        int32_t taken = s >= 0 ? tw_part_of(w, s)->acts : open_acts;
        if (!(taken >> verb & 1)) {
            refuse(w, act, verb, s >= 0 ? TW_REFUSED_OTHER : TW_REFUSED_EMPTY, s >= 0 ? tw_part_of(w, s)->kind : 0);
            return 0;
        }
    }
    return act_on(w, act, verb, c, s);
}
