/* Pistons: moves that wait their turn, the cells they move, what breaks, and landings. */

#include "world.h"

static tw_cell along(tw_cell c, int d, int32_t n) {
    return (tw_cell){c.x + n * TW_DX[d], c.y + n * TW_DY[d], c.z + n * TW_DZ[d]};
}

static void note(tw_world *w, int code, int32_t piston, tw_cell there, int32_t kind) {
    tw_cell c = tw_cell_of(w, piston);
    tw_note_add(w, (tw_note){.code = code,
                             .x = c.x,
                             .y = c.y,
                             .z = c.z,
                             .kind = tw_part_of(w, piston)->kind,
                             .x2 = there.x,
                             .y2 = there.y,
                             .z2 = there.z,
                             .kind2 = kind});
}

/* The piston compares its power with its state, and queues a move if they differ. */
void tw_piston_look(tw_world *w, int32_t s) {
    if (w->place[s].posture == TW_RETRACTING || w->live[s].flags & (TW_QUEUED | TW_INERT))
        return;
    if ((tw_main(w, s) > 0) == (w->place[s].posture == TW_OUT))
        return;
    w->live[s].flags |= TW_QUEUED;
    TW_PUSH(w, queue, s);
}

static void break_part(tw_world *w, int32_t s, int code, tw_cell other, int32_t kind2) {
    note(w, code, s, other, kind2);
    tw_lift(w, s);
}

/* Whatever stood on or was fixed to the cell breaks, unless something carries it still. */
void tw_break_around(tw_world *w, tw_cell cell) {
    for (int d = 0; d < 6; d++) {
        tw_cell there = tw_beside(cell, d);
        int32_t s = tw_at_cell(w, there);
        if (!tw_real(w, s) || !tw_part_of(w, s)->support)
            continue;
        tw_cell on = tw_support(tw_part_of(w, s), there);
        if (on.x == cell.x && on.y == cell.y && on.z == cell.z && !tw_supported(w, tw_part_of(w, s), there))
            break_part(w, s, TW_BROKE_LOST, cell, 0);
    }
}

static bool movable(const tw_world *w, int32_t s) {
    if (!tw_real(w, s) || !tw_part_of(w, s)->movable)
        return false;
    return w->links[s].role != TW_PISTON || w->place[s].posture == TW_AT_REST;
}

/* What is said of a part that is in the way. */
static void note_blocked(tw_world *w, int32_t piston, int32_t s, tw_cell there) {
    if (s < 0) {
        note(w, TW_BLOCKED_ARM, piston, there, 0);
        return;
    }
    const tw_part *part = tw_part_of(w, s);
    int code = TW_BLOCKED_FAST;
    if (w->live[s].flags & TW_INERT)
        code = TW_BLOCKED_MOVING;
    else if (part->movable)
        code = movable(w, s) ? TW_BLOCKED_MANY : TW_BLOCKED_BUSY;
    note(w, code, piston, there, part->kind);
}

/* How many cells stand in a row to be pushed, -1 if something is in the way; `breaks`: what stands at the end. */
static int32_t row_before(tw_world *w, int32_t piston, int32_t *breaks) {
    tw_cell c = tw_cell_of(w, piston);
    *breaks = -1;
    for (int32_t n = 0;; n++) {
        tw_cell there = along(c, w->links[piston].facing, n + 1);
        int32_t s = tw_at_cell(w, there);
        if (s == TW_EMPTY)
            return n;
        if (movable(w, s) && n < w->rules.push_limit)
            continue;
        if (tw_real(w, s) && tw_part_of(w, s)->support) {
            *breaks = s;
            return n;
        }
        note_blocked(w, piston, s, there);
        return -1;
    }
}

static void begin_move(tw_world *w, int32_t piston, bool retracted, uint32_t first) {
    tw_new_shape(w);
    if (!retracted && w->goals_n == first)
        return;
    TW_PUSH(w, moves, (tw_move){piston, retracted, w->now + w->rules.travel, first, w->goals_n - first, 0});
}

static void extend(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    int d = w->links[s].facing;
    int32_t breaks, n = row_before(w, s, &breaks);
    if (n < 0)
        return;
    if (breaks >= 0)
        break_part(w, breaks, TW_BROKE_PUSHED, c, tw_part_of(w, s)->kind);
    w->place[s].posture = TW_OUT;
    tw_set_level(w, s, (uint32_t)w->rules.full);
    uint32_t first = w->goals_n;
    for (int32_t i = 1; i <= n; i++) {
        int32_t pushed = tw_at_cell(w, along(c, d, i));
        TW_PUSH(w, goals, pushed);
        tw_lift(w, pushed);
    }
    for (int32_t i = 0; i < n; i++)
        tw_lay(w, w->goals[first + (uint32_t)i], along(c, d, i + 2), true);
    tw_set(w, along(c, d, 1), -2 - s);
    tw_touch(w, along(c, d, 1));
    tw_touch(w, c);
    tw_break_around(w, c);
    for (int32_t i = 1; i <= n; i++)
        tw_break_around(w, along(c, d, i));
    begin_move(w, s, false, first);
    tw_end_edit(w, true);
}

/* One cell on the move comes to stand where it was going. */
static void land(tw_world *w, int32_t s) {
    if (!(w->live[s].flags & TW_INERT) || tw_at_cell(w, tw_cell_of(w, s)) != s)
        return;
    if (w->links[s].role == TW_SENSOR)
        w->live[s].level = 0;
    tw_lay(w, s, tw_cell_of(w, s), false);
    tw_end_edit(w, true);
}

static tw_move *push_under_way(tw_world *w, int32_t s) {
    for (uint32_t i = 0; i < w->moves_n; i++)
        if (w->moves[i].piston == s && !w->moves[i].retracted && !w->moves[i].over)
            return &w->moves[i];
    return NULL;
}

static void leave_behind(tw_world *w, int32_t s, const tw_move *push) {
    for (uint32_t i = 0; i < push->n && tw_part_of(w, s)->mode; i++) {
        int32_t left = w->goals[push->first + i];
        note(w, TW_LEFT_BEHIND, s, tw_cell_of(w, left), 0);
        w->notes[w->notes_n - 1u].number = (int32_t)(push->n - 1u - i);
    }
}

/* Take hold of the cell that stood before the arm, if it can be moved. */
static void pull(tw_world *w, int32_t s, tw_cell c, int d) {
    tw_cell from = along(c, d, 2);
    int32_t pulled = tw_at_cell(w, from);
    if (!movable(w, pulled)) {
        int32_t whose = pulled < TW_EMPTY ? -2 - pulled : pulled; /* an arm is of its piston */
        if (whose >= 0 && !tw_part_of(w, whose)->support)
            note(w, TW_CANNOT_PULL, s, from, tw_part_of(w, whose)->kind);
        return;
    }
    TW_PUSH(w, goals, pulled);
    tw_lift(w, pulled);
    tw_lay(w, pulled, along(c, d, 1), true);
    tw_break_around(w, from);
}

static void retract(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    int d = w->links[s].facing;
    tw_move *push = push_under_way(w, s);
    uint32_t early = 0, early_n = 0;
    w->place[s].posture = TW_RETRACTING;
    tw_set_level(w, s, 0);
    tw_set(w, along(c, d, 1), TW_EMPTY);
    tw_touch(w, along(c, d, 1));
    tw_touch(w, c);
    uint32_t first = w->goals_n;
    if (push) {
        push->over = 1;
        early = push->first, early_n = push->n;
        leave_behind(w, s, push);
    } else if (tw_part_of(w, s)->mode) {
        pull(w, s, c, d);
    }
    begin_move(w, s, true, first);
    tw_end_edit(w, true);
    for (uint32_t i = 0; i < early_n; i++)
        land(w, w->goals[early + i]);
}

/* The moves that are queued start, and those that are queued by them. */
void tw_moves_phase(tw_world *w) {
    for (w->queue_next = 0; w->queue_next < w->queue_n; w->queue_next++) {
        int32_t s = w->queue[w->queue_next];
        if (!(w->live[s].flags & TW_QUEUED))
            continue;
        w->live[s].flags &= (uint8_t)~TW_QUEUED;
        bool power = tw_main(w, s) > 0;
        if (w->live[s].flags & TW_INERT || w->place[s].posture == TW_RETRACTING)
            continue;
        if (power && w->place[s].posture == TW_AT_REST)
            extend(w, s);
        else if (!power && w->place[s].posture == TW_OUT)
            retract(w, s);
    }
    w->queue_n = w->queue_next = 0;
}

static void end_move(tw_world *w, uint32_t at) {
    tw_move move = w->moves[at];
    for (uint32_t i = 0; i < move.n; i++)
        land(w, w->goals[move.first + i]);
    if (!move.retracted || !tw_real(w, move.piston) || w->place[move.piston].posture != TW_RETRACTING)
        return;
    w->place[move.piston].posture = TW_AT_REST;
    tw_new_shape(w);
    tw_notify(w, move.piston);
}

/* Moved cells land and retracted pistons look again, in the order their moves started. */
void tw_landings(tw_world *w) {
    for (uint32_t i = 0; i < w->moves_n; i++) {
        if (w->moves[i].over || w->moves[i].step > w->now)
            continue;
        end_move(w, i);
        w->moves[i].over = 1;
    }
    uint32_t kept = 0, goals = 0;
    for (uint32_t i = 0; i < w->moves_n; i++) {
        tw_move move = w->moves[i];
        if (move.over)
            continue;
        for (uint32_t k = 0; k < move.n; k++)
            w->goals[goals + k] = w->goals[move.first + k];
        move.first = goals;
        goals += move.n;
        w->moves[kept++] = move;
    }
    w->moves_n = kept;
    w->goals_n = goals;
}

/* A piston that is taken away takes its arm with it. */
void tw_forget_piston(tw_world *w, int32_t s) {
    if (w->links[s].role != TW_PISTON || w->place[s].posture != TW_OUT)
        return;
    tw_cell arm = along(tw_cell_of(w, s), w->links[s].facing, 1);
    if (tw_at_cell(w, arm) != -2 - s)
        return;
    tw_set(w, arm, TW_EMPTY);
    tw_touch(w, arm);
}
