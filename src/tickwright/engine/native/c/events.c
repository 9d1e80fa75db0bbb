/* What comes due when: a wheel of steps for the near ones, a heap for the far.

   A bucket of the wheel holds the events of one step in the order of scheduling. An event beyond the wheel waits in the
   heap until its step comes within reach, which is before any event can be scheduled straight into its bucket. */

#include "world.h"

TW_RARE static void bucket_room(tw_world *w, tw_bucket *b) {
    b->e = tw_grow(w, b->e, &b->room, b->n + 1u, sizeof *b->e);
}

TW_QUICK void wheel_put(tw_world *w, int64_t step, tw_event event) {
    uint32_t at = (uint32_t)step % TW_WHEEL;
    tw_bucket *b = &w->wheel[at];
    if (b->n == b->room)
        bucket_room(w, b);
    b->e[b->n++] = event;
    b->ranks |= 1u << (event.what & 7u);
    w->busy[at / 64u] |= (uint64_t)1 << at % 64u;
}

static bool sooner(const tw_late *a, const tw_late *b) {
    return a->step != b->step ? a->step < b->step : a->order < b->order;
}

static void late_up(tw_world *w, uint32_t at, tw_late late) {
    for (; at > 0 && sooner(&late, &w->late[(at - 1u) / 2u]); at = (at - 1u) / 2u)
        w->late[at] = w->late[(at - 1u) / 2u];
    w->late[at] = late;
}

/* Take the entry at that place out of the heap. */
static tw_late late_take(tw_world *w, uint32_t at) {
    tw_late taken = w->late[at], last = w->late[--w->late_n];
    uint32_t n = w->late_n;
    if (at == n)
        return taken;
    for (uint32_t child = 2u * at + 1u; child < n; child = 2u * at + 1u) {
        if (child + 1u < n && sooner(&w->late[child + 1u], &w->late[child]))
            child++;
        if (!sooner(&w->late[child], &last))
            break;
        w->late[at] = w->late[child];
        at = child;
    }
    late_up(w, at, last);
    return taken;
}

/* Put an event that has its place in the order of scheduling already, some way back perhaps. */
TW_RARE void tw_put_event(tw_world *w, int64_t step, uint32_t what, uint64_t order) {
    if (step - w->now >= TW_WHEEL) {
        TW_ROOM(w, late, w->late_n + 1u);
        late_up(w, w->late_n++, (tw_late){step, order, what});
        return;
    }
    tw_event event = {what, (uint32_t)order};
    wheel_put(w, step, event);
    tw_bucket *b = &w->wheel[step % TW_WHEEL];
    uint32_t at = b->n - 1u;
    for (; at > 0 && (int32_t)(b->e[at - 1u].order - event.order) > 0; at--)
        b->e[at] = b->e[at - 1u];
    b->e[at] = event;
}

/* Slot s acts so many steps from now, with that rank of priority; it must have no event outstanding. */
TW_QUICK void schedule(tw_world *w, int32_t s, int64_t delay, uint32_t rank) {
    uint32_t what = (uint32_t)s << 3 | rank;
    w->live[s].flags |= TW_WAITING;
    if (delay < TW_WHEEL)
        wheel_put(w, w->now + delay, (tw_event){what, (uint32_t)w->scheduled});
    else
        tw_put_event(w, w->now + delay, what, w->scheduled);
    w->scheduled++;
}

void tw_schedule(tw_world *w, int32_t s, int64_t delay) {
    schedule(w, s, delay, w->ranks.plain);
}

static void forget(tw_bucket *b, int32_t s) {
    uint32_t kept = 0;
    for (uint32_t i = 0; i < b->n; i++)
        if (b->e[i].what >> 3 != (uint32_t)s)
            b->e[kept++] = b->e[i];
    b->n = kept;
}

/* Whatever event slot s has outstanding is void. */
void tw_cancel(tw_world *w, int32_t s) {
    if (!(w->live[s].flags & TW_WAITING))
        return;
    w->live[s].flags &= (uint8_t)~TW_WAITING;
    for (uint32_t word = 0; word < TW_WHEEL / 64; word++)
        for (uint64_t bits = w->busy[word]; bits; bits &= bits - 1u) {
            uint32_t at = word * 64u + (uint32_t)__builtin_ctzll(bits);
            forget(&w->wheel[at], s);
            if (!w->wheel[at].n)
                tw_empty_bucket(w, at);
        }
    for (uint32_t i = w->late_n; i-- > 0;)
        if (w->late[i].what >> 3 == (uint32_t)s)
            late_take(w, i);
}

void tw_empty_bucket(tw_world *w, uint32_t at) {
    w->wheel[at].n = w->wheel[at].ranks = 0;
    w->busy[at / 64u] &= ~((uint64_t)1 << at % 64u);
}

/* Take into the wheel what has come within its reach. */
void tw_reach(tw_world *w) {
    while (w->late_n && w->late[0].step - w->now < TW_WHEEL) {
        tw_late late = late_take(w, 0);
        wheel_put(w, late.step, (tw_event){late.what, (uint32_t)late.order});
    }
}

void tw_empty_wheel(tw_world *w) {
    for (uint32_t word = 0; word < TW_WHEEL / 64; word++)
        for (uint64_t bits = w->busy[word]; bits; bits &= bits - 1u)
            tw_empty_bucket(w, word * 64u + (uint32_t)__builtin_ctzll(bits));
}

/* The next step after that one, which is now or later, in which an event of the wheel is due, or TW_NEVER. */
int64_t tw_next_in_wheel(const tw_world *w, int64_t after) {
    uint32_t at = (uint32_t)(after + 1) % TW_WHEEL, word = at / 64u;
    uint64_t bits = w->busy[word] >> at % 64u;
    if (bits)
        return after + 1 + __builtin_ctzll(bits) < w->now + TW_WHEEL ? after + 1 + __builtin_ctzll(bits) : TW_NEVER;
    for (uint32_t i = 1; i <= TW_WHEEL / 64; i++) {
        word = (at / 64u + i) % (TW_WHEEL / 64);
        bits = w->busy[word];
        if (bits) {
            uint32_t found = word * 64u + (uint32_t)__builtin_ctzll(bits);
            int64_t step = after + 1 + (found + TW_WHEEL - at) % TW_WHEEL;
            return step < w->now + TW_WHEEL ? step : TW_NEVER;
        }
    }
    return TW_NEVER;
}

/* The next step after now in which an event is due, or TW_NEVER. */
int64_t tw_next_event(const tw_world *w) {
    int64_t step = tw_next_in_wheel(w, w->now);
    return step == TW_NEVER && w->late_n ? w->late[0].step : step;
}

/* --- ranks of priority ----------------------------------------------------------------------------------------------
 */

/* The priorities that occur, numbered by how many are lower: of the events of a step those of the lowest rank act
 * first.
 */
void tw_make_ranks(tw_world *w) {
    const tw_rules *r = &w->rules;
    const int32_t all[] = {r->repeater_ahead,   r->repeater_off,    r->repeater_on,
                           r->comparator_ahead, r->comparator_else, 0};
    uint8_t ranks[sizeof all / sizeof *all] = {0};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        for (size_t k = 0; k < sizeof all / sizeof *all; k++)
            ranks[i] = (uint8_t)(ranks[i] + (all[k] < all[i]));
    w->ranks = (tw_ranks){ranks[0], ranks[1], ranks[2], ranks[3], ranks[4], ranks[5]};
}
