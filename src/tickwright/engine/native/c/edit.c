/* Cells change while a world runs: what was touched is linked anew, and all that may notice is notified. */

#include "world.h"
#include <stdatomic.h>

/* Something else stands in the cell now. */
void tw_touch(tw_world *w, tw_cell cell) {
    TW_PUSH(w, touched, cell);
}

/* Take a slot out of its cell. It is inert until it is laid again. */
void tw_lift(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    tw_detach(w, s);
    tw_cancel(w, s);
    w->live[s].flags = (uint8_t)((w->live[s].flags | TW_INERT) & ~TW_QUEUED);
    tw_set(w, c, TW_EMPTY);
    tw_touch(w, c);
    w->turns_stale |= w->links[s].role == TW_HOPPER;
}

/* Put a slot into a cell, on the move or to stay. */
void tw_lay(tw_world *w, int32_t s, tw_cell c, bool inert) {
    w->place[s].x = c.x, w->place[s].y = c.y, w->place[s].z = c.z;
    tw_key(w, s);
    tw_set(w, c, s);
    tw_touch(w, c);
    if (inert)
        return;
    w->live[s].flags &= (uint8_t)~TW_INERT;
    w->turns_stale |= w->links[s].role == TW_HOPPER;
    TW_PUSH(w, laid, s);
}

static void choose(tw_world *w, int32_t s) {
    if (w->chosen[s] == w->choice)
        return;
    w->chosen[s] = w->choice;
    TW_PUSH(w, again, (uint32_t)s);
}

/* Choose the listeners near a cell: those that hear it or a neighbour of it; pistons may hear one cell farther. */
static void choose_near(tw_world *w, tw_cell c) {
    int32_t most = w->pistons_n && w->rules.hears_above ? 3 : 2;
    for (int32_t z = -most; z <= most; z++) {
        int32_t left_z = most - (z < 0 ? -z : z);
        for (int32_t y = -left_z; y <= left_z; y++) {
            int32_t left = left_z - (y < 0 ? -y : y);
            for (int32_t x = -left; x <= left; x++) {
                int32_t s = tw_at(w, c.x + x, c.y + y, c.z + z);
                if (s >= 0 && tw_listens(w, s))
                    choose(w, s);
            }
        }
    }
}

static void reach_wire(tw_world *w, int32_t s) {
    if (!tw_is(w, s, TW_WIRE) || w->seen[s] == w->mark)
        return;
    w->seen[s] = w->mark;
    TW_PUSH(w, front, (uint32_t)s);
}

/* Every wire into which a level may flow, now or before, through or from near the cells touched. */
static void reach(tw_world *w) {
    w->mark++;
    w->front_n = 0;
    for (uint32_t t = 0; t < w->touched_n; t++) {
        tw_cell c = w->touched[t];
        for (int32_t z = -2; z <= 2; z++)
            for (int32_t y = -2; y <= 2; y++)
                for (int32_t x = -2; x <= 2; x++)
                    if ((x < 0 ? -x : x) + (y < 0 ? -y : y) + (z < 0 ? -z : z) <= 2)
                        reach_wire(w, tw_at(w, c.x + x, c.y + y, c.z + z));
    }
    int32_t loss = 0;
    for (uint32_t at = 0; at < w->front_n && loss < w->rules.top; loss += w->rules.loss) {
        for (uint32_t end = w->front_n; at < end; at++) {
            tw_cell c = tw_cell_of(w, (int32_t)w->front[at]);
            for (int d = 0; d < 4; d++)
                for (int32_t up = -1; up <= 1; up++)
                    reach_wire(w, tw_at(w, c.x + TW_DX[d], c.y + TW_DY[d], c.z + up));
        }
    }
}

static void push_round(tw_world *w, int32_t s) {
    TW_PUSH(w, round, (uint32_t)s);
}

/* The sensors that watch a cell, and the pistons that it is near to. */
static void push_watchers(tw_world *w, tw_cell c, bool sensors) {
    for (int d = 0; sensors && d < 6; d++) {
        int32_t n = tw_at_cell(w, tw_beside(c, d));
        if (tw_is(w, n, TW_SENSOR) && w->links[n].facing == d)
            push_round(w, n);
    }
    for (uint32_t i = 0; w->pistons_n && i < w->ball_n; i++) {
        int32_t near = tw_at(w, c.x + w->ball[i].x, c.y + w->ball[i].y, c.z + w->ball[i].z);
        if (tw_is(w, near, TW_PISTON))
            push_round(w, near);
    }
}

/* Look at the level of a wire that is kept; whoever sees it is in the round if it is another. */
static void refresh_wire(tw_world *w, int32_t s) {
    uint8_t level = (uint8_t)tw_main(w, s), before = w->live[s].level;
    w->live[s].level = level;
    if (level == before || before == 0xff)
        return;
    const tw_links *l = &w->links[s];
    for (uint32_t i = 0; i < l->out_n; i++)
        push_round(w, (int32_t)(w->outs[l->out + l->wire_n + i] >> 1));
}

static void gather(tw_world *w, bool seen) {
    for (uint32_t i = 0; i < w->again_n; i++) {
        int32_t s = (int32_t)w->again[i];
        int role = w->links[s].role;
        if (role == TW_WIRE && w->live[s].flags & TW_EAGER)
            refresh_wire(w, s);
        else if (role != TW_WIRE && role != TW_PISTON && role != TW_PLAIN)
            push_round(w, s);
    }
    for (uint32_t i = 0; i < w->touched_n; i++)
        push_watchers(w, w->touched[i], seen);
    for (uint32_t i = 0; i < w->laid_n; i++)
        if (w->links[w->laid[i]].role != TW_SENSOR)
            push_round(w, w->laid[i]);
}

/* A wire or block in a watched cell keeps its inputs. */
void tw_probe_all(tw_world *w) {
    for (uint32_t i = 0; i < w->probes_n; i++) {
        int32_t s = tw_at_cell(w, w->probes[i].cell);
        if (!tw_real(w, s))
            continue;
        w->live[s].flags |= TW_SHOWN;
        if (w->live[s].flags & TW_PROBED)
            continue;
        if (w->links[s].role == TW_WIRE || w->links[s].role == TW_PLAIN) {
            w->live[s].flags |= TW_PROBED;
            choose(w, s);
        }
    }
    if (!w->started)
        w->again_n = 0;
}

/* The SHAPE arrays are about to differ from all others. */
void tw_new_shape(tw_world *w) {
    static _Atomic uint64_t shapes;
    w->shape = atomic_fetch_add(&shapes, 1) + 1;
}

/* Link anew what the edit touched, then notify all it concerns: sensors only if it can be `seen`. */
void tw_end_edit(tw_world *w, bool seen) {
    tw_new_shape(w);
    w->dirty = true;
    if (++w->choice == 0)
        w->choice = 1;
    w->again_n = 0;
    tw_probe_all(w);
    for (uint32_t i = 0; i < w->laid_n; i++)
        tw_attach(w, w->laid[i]);
    reach(w);
    for (uint32_t i = 0; i < w->touched_n; i++)
        choose_near(w, w->touched[i]);
    for (uint32_t i = 0; i < w->front_n; i++)
        choose_near(w, tw_cell_of(w, (int32_t)w->front[i]));
    for (uint32_t i = 0; i < w->again_n; i++)
        tw_link(w, (int32_t)w->again[i]);
    for (uint32_t i = 0; i < w->touched_n; i++)
        tw_wake_round(w, w->touched[i]);
    uint32_t base = w->round_n;
    gather(w, seen);
    w->touched_n = w->laid_n = w->again_n = 0;
    tw_notify_round(w, base);
}
