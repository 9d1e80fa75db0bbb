/* What comes due when: a wheel of steps for the near ones, a heap for the far. */

#include "world.h"

static void wheel_put(tw_world *w, uint32_t at, tw_event event) {
    tw_bucket *b = &w->wheel[at];
    if (b->n == b->room)
        b->e = tw_grow(w, b->e, &b->room, b->n + 1u, sizeof *b->e);
    b->e[b->n++] = event;
    w->busy[at / 64u] |= (uint64_t)1 << at % 64u;
}

static void late_put(tw_world *w, tw_late late) {
    TW_PUSH(w, late, late);
    uint32_t at = w->late_n - 1u;
    for (; at > 0 && w->late[(at - 1u) / 2u].step > late.step; at = (at - 1u) / 2u)
        w->late[at] = w->late[(at - 1u) / 2u];
    w->late[at] = late;
}

static tw_late late_take(tw_world *w) {
    tw_late first = w->late[0], last = w->late[--w->late_n];
    uint32_t at = 0, n = w->late_n;
    for (uint32_t child = 1; child < n; child = 2u * at + 1u) {
        if (child + 1u < n && w->late[child + 1u].step < w->late[child].step)
            child++;
        if (w->late[child].step >= last.step)
            break;
        w->late[at] = w->late[child];
        at = child;
    }
    if (n)
        w->late[at] = last;
    return first;
}

/* Put an event that has its place in the order already. */
void tw_put_event(tw_world *w, int64_t step, tw_event event) {
    if (step - w->now < TW_WHEEL)
        wheel_put(w, (uint32_t)(step % TW_WHEEL), event);
    else
        late_put(w, (tw_late){step, event});
}

/* Slot s acts so many steps from now; it must have no event outstanding. */
void tw_schedule(tw_world *w, int32_t s, int64_t delay, int32_t priority) {
    uint64_t key = (uint64_t)(priority + 128) << 56 | w->scheduled++;
    w->live[s].flags |= TW_WAITING;
    tw_put_event(w, w->now + delay, (tw_event){key, (uint32_t)s, w->links[s].epoch});
}

/* Whatever event slot s has outstanding is void. */
void tw_cancel(tw_world *w, int32_t s) {
    w->live[s].flags &= (uint8_t)~TW_WAITING;
    w->links[s].epoch++;
}

/* Sort by priority, keeping the order of scheduling: mostly there are few priorities, each in order already. */
static void sort_events(tw_world *w) {
    uint32_t n = w->sorted_n;
    tw_event *e = w->sorted;
    for (uint32_t gap = n / 2u; gap > 0 && n > 1; gap /= 2u)
        for (uint32_t i = gap; i < n; i++) {
            tw_event event = e[i];
            uint32_t j = i;
            for (; j >= gap && e[j - gap].key > event.key; j -= gap)
                e[j] = e[j - gap];
            e[j] = event;
        }
}

enum { TW_FEW = 8 }; /* priorities that are dealt out without comparing */

/* Deal the events of a bucket out by priority, if there are few and each is in order; false if not. */
static bool deal_out(tw_world *w, const tw_bucket *b) {
    uint64_t tops[TW_FEW], last[TW_FEW];
    uint32_t count[TW_FEW], kinds = 0;
    for (uint32_t i = 0; i < b->n; i++) {
        uint64_t key = b->e[i].key, top = key >> 56;
        uint32_t k = 0;
        while (k < kinds && tops[k] != top)
            k++;
        if (k == TW_FEW)
            return false;
        if (k == kinds) {
            tops[k] = top, count[k] = 0, last[k] = 0;
            kinds++;
        } else if (last[k] > key) {
            return false;
        }
        count[k]++;
        last[k] = key;
    }
    uint32_t start[TW_FEW];
    for (uint32_t k = 0; k < kinds; k++) {
        start[k] = 0;
        for (uint32_t j = 0; j < kinds; j++)
            if (tops[j] < tops[k])
                start[k] += count[j];
    }
    for (uint32_t i = 0; i < b->n; i++) {
        uint32_t k = 0;
        while (tops[k] != b->e[i].key >> 56)
            k++;
        w->sorted[start[k]++] = b->e[i];
    }
    return true;
}

void tw_take_due(tw_world *w) {
    uint32_t at = (uint32_t)(w->now % TW_WHEEL);
    while (w->late_n && w->late[0].step <= w->now)
        wheel_put(w, at, late_take(w).event);
    tw_bucket *b = &w->wheel[at];
    TW_ROOM(w, sorted, b->n);
    w->sorted_n = b->n;
    if (!deal_out(w, b)) {
        for (uint32_t i = 0; i < b->n; i++)
            w->sorted[i] = b->e[i];
        sort_events(w);
    }
    b->n = 0;
    w->busy[at / 64u] &= ~((uint64_t)1 << at % 64u);
}

/* The next step after now in which an event is due, or TW_NEVER. */
int64_t tw_next_event(const tw_world *w) {
    int64_t next = w->late_n ? w->late[0].step : TW_NEVER;
    uint32_t at = (uint32_t)((w->now + 1) % TW_WHEEL);
    for (uint32_t i = 0; i <= TW_WHEEL / 64; i++) {
        uint32_t word = (at / 64u + i) % (TW_WHEEL / 64), skip = i ? 0 : at % 64u;
        uint64_t bits = w->busy[word] >> skip << skip;
        if (i == TW_WHEEL / 64)
            bits &= ((uint64_t)1 << at % 64u) - 1u;
        if (bits) {
            uint32_t found = word * 64u + (uint32_t)__builtin_ctzll(bits);
            int64_t near = w->now + 1 + (found + TW_WHEEL - at) % TW_WHEEL;
            return near < next ? near : next;
        }
    }
    return next;
}
