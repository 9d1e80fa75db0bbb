/* Where tiles lie on the ground of a room, bettered by random changes: the cost is wire length and overlap.
   layout/placing.py says the same in Python, and with the same seed finds the same places. */

#include "tw.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    TW_WAYS = 8,
    TW_FREE_PLACE = 0,
    TW_FIXED_PLACE = 1,
    TW_KEEPS_WEST,
    TW_KEEPS_NORTH,
    TW_KEEPS_EAST,
    TW_KEEPS_SOUTH
};

typedef struct {
    const tw_anneal_data *d;
    int32_t *count; /* how many rectangles lie on each cell of the ground */
    int32_t *length, *fresh;
    int32_t *stamp, stamped; /* the nets that a change touches */
    int32_t *touched, touched_n;
    int32_t wide, deep;
} tw_places;

static uint64_t drawn(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static int32_t drawn_below(uint64_t *state, int32_t n) {
    return (int32_t)(((drawn(state) >> 33) * (uint64_t)n) >> 31);
}

static double drawn_part(uint64_t *state) {
    return (double)(drawn(state) >> 11) * 0x1p-53;
}

static const int32_t *shape_of(const tw_anneal_data *d, int32_t one, int32_t way) {
    return d->shapes + 4 * ((int64_t)one * TW_WAYS + way);
}

/* A place where an instance lies in the room: anywhere, or near a place; on its side, or just where it is fixed. */
static void some_place(const tw_anneal_data *d, int32_t one, int32_t way, int32_t reach, int32_t at[2]) {
    int32_t fixed = d->fixed[3 * one];
    if (fixed == TW_FIXED_PLACE) {
        at[0] = d->fixed[3 * one + 1], at[1] = d->fixed[3 * one + 2];
        return;
    }
    const int32_t *form = shape_of(d, one, way);
    for (int axis = 0; axis < 2; axis++) {
        int32_t low = -form[axis], high = d->room[axis] - form[2 + axis];
        high = high > low ? high : low;
        if (fixed == TW_KEEPS_WEST + axis)
            high = low;
        else if (fixed == TW_KEEPS_EAST + axis)
            low = high;
        int32_t least = at[axis] - reach < high ? at[axis] - reach : high;
        int32_t most = at[axis] + reach > low ? at[axis] + reach : low;
        least = least > low ? least : low, most = most < high ? most : high;
        at[axis] = least + drawn_below(d->state, most - least + 1);
    }
}

/* Mark the rectangle of an instance; how much the overlap changes. */
static int32_t marked(tw_places *p, int32_t one, int32_t sign) {
    const int32_t *form = shape_of(p->d, one, p->d->way[one]), *at = p->d->at + 2 * one;
    int32_t x0 = at[0] + form[0], x1 = at[0] + form[2], y0 = at[1] + form[1], y1 = at[1] + form[3], change = 0;
    x0 = x0 > 0 ? x0 : 0, y0 = y0 > 0 ? y0 : 0;
    x1 = x1 < p->wide - 1 ? x1 : p->wide - 1, y1 = y1 < p->deep - 1 ? y1 : p->deep - 1;
    for (int32_t y = y0; y <= y1; y++)
        for (int32_t x = x0; x <= x1; x++) {
            int32_t *here = p->count + (int64_t)y * p->wide + x;
            if (sign > 0)
                change += *here > 0, ++*here;
            else
                --*here, change -= *here > 0;
        }
    return change;
}

/* The wire length of a net, and more for each cell by which its pins lie too far from the first. */
static int32_t net_length(const tw_anneal_data *d, int32_t net) {
    int32_t low[2] = {INT32_MAX, INT32_MAX}, high[2] = {INT32_MIN, INT32_MIN}, first[2] = {0, 0}, too_far = 0;
    for (int32_t i = d->net_ends[net]; i < d->net_ends[net + 1]; i++) {
        int32_t one = d->pins[2 * i], port = d->pins[2 * i + 1];
        const int32_t *meets = d->ports + 2 * ((int64_t)port * TW_WAYS + d->way[one]);
        int32_t apart = 0;
        for (int axis = 0; axis < 2; axis++) {
            int32_t here = d->at[2 * one + axis] + meets[axis];
            low[axis] = here < low[axis] ? here : low[axis], high[axis] = here > high[axis] ? here : high[axis];
            first[axis] = i == d->net_ends[net] ? here : first[axis];
            apart += here > first[axis] ? here - first[axis] : first[axis] - here;
        }
        if (d->reach[i] >= 0 && apart > d->reach[i])
            too_far += apart - d->reach[i];
    }
    return d->net_ends[net] == d->net_ends[net + 1] ? 0 : high[0] - low[0] + high[1] - low[1] + d->far * too_far;
}

static void touch_nets(tw_places *p, int32_t one) {
    const tw_anneal_data *d = p->d;
    for (int32_t i = d->own_ends[one]; i < d->own_ends[one + 1]; i++) {
        int32_t net = d->own_nets[i];
        if (p->stamp[net] != p->stamped)
            p->stamp[net] = p->stamped, p->touched[p->touched_n++] = net;
    }
}

/* One change, kept if it betters the places or by chance. */
static void try_change(tw_places *p, double heat, int32_t reach, double weight) {
    const tw_anneal_data *d = p->d;
    int32_t n = (int32_t)d->instances_n, who[2], who_n = 1, old_at[2][2], old_way[2], overlap = 0;
    who[0] = drawn_below(d->state, n);
    double kind = drawn_part(d->state);
    if (kind < 0.15 && n > 1) {
        who[1] = drawn_below(d->state, n);
        if (who[1] == who[0] || d->fixed[3 * who[0]] || d->fixed[3 * who[1]])
            return;
        who_n = 2;
    }
    for (int i = 0; i < who_n; i++) {
        memcpy(old_at[i], d->at + 2 * who[i], sizeof old_at[i]), old_way[i] = d->way[who[i]];
        overlap += marked(p, who[i], -1);
    }
    if (who_n == 2) {
        for (int i = 0; i < 2; i++)
            memcpy(d->at + 2 * who[i], old_at[1 - i], sizeof old_at[0]);
        for (int i = 0; i < 2; i++)
            some_place(d, who[i], d->way[who[i]], 0, d->at + 2 * who[i]);
    } else {
        int32_t first = d->way_ends[who[0]], ways = d->way_ends[who[0] + 1] - first;
        if (kind < 0.4)
            d->way[who[0]] = d->ways[first + drawn_below(d->state, ways)];
        some_place(d, who[0], d->way[who[0]], kind < 0.4 ? 0 : reach, d->at + 2 * who[0]);
    }
    p->touched_n = 0, p->stamped++;
    for (int i = 0; i < who_n; i++) {
        overlap += marked(p, who[i], 1);
        touch_nets(p, who[i]);
    }
    int64_t longer = 0;
    for (int32_t i = 0; i < p->touched_n; i++) {
        p->fresh[i] = net_length(d, p->touched[i]);
        longer += p->fresh[i] - p->length[p->touched[i]];
    }
    double change = (double)longer + weight * overlap;
    if (change <= 0 || drawn_part(d->state) < exp(-change / heat)) {
        for (int32_t i = 0; i < p->touched_n; i++)
            p->length[p->touched[i]] = p->fresh[i];
        return;
    }
    for (int i = 0; i < who_n; i++)
        marked(p, who[i], -1);
    for (int i = 0; i < who_n; i++) {
        memcpy(d->at + 2 * who[i], old_at[i], sizeof old_at[i]), d->way[who[i]] = old_way[i];
        marked(p, who[i], 1);
    }
}

static int ends_rise(const int32_t *ends, int64_t n, int64_t most) {
    if (!ends || ends[0] != 0)
        return 0;
    for (int64_t i = 0; i < n; i++)
        if (ends[i + 1] < ends[i] || ends[i + 1] > most)
            return 0;
    return 1;
}

static int all_below(const int32_t *numbers, int64_t n, int64_t step, int64_t most) {
    for (int64_t i = 0; i < n; i += step)
        if (numbers[i] < 0 || numbers[i] >= most)
            return 0;
    return 1;
}

static int is_near(int32_t at) {
    return at >= -1000000 && at <= 1000000;
}

static int in_bounds(const tw_anneal_data *d) {
    int64_t n = d->instances_n, most = 1 << 24;
    if (n < 1 || n > most || d->nets_n < 0 || d->nets_n > most || d->pins_n < 0 || d->pins_n > most || d->ports_n < 0 ||
        d->ports_n > most || d->own_n < 0 || d->own_n > most || d->ways_n < 1 || d->ways_n > most || d->taken_n < 0 ||
        d->taken_n > most || d->far < 0 || d->far > 1000)
        return 0;
    if (!d->shapes || !d->ports || !d->pins || !d->own_nets || !d->ways || !d->fixed || !d->reach || !d->taken ||
        !d->at || !d->way || !d->state)
        return 0;
    for (int axis = 0; axis < 2; axis++)
        if (d->room[axis] < 1 || d->room[axis] > 100000)
            return 0;
    if ((int64_t)d->room[0] * d->room[1] > most || !ends_rise(d->net_ends, d->nets_n, d->pins_n) ||
        !ends_rise(d->own_ends, n, d->own_n) || !ends_rise(d->way_ends, n, d->ways_n))
        return 0;
    for (int64_t i = 0; i < n; i++)
        if (d->way_ends[i] == d->way_ends[i + 1])
            return 0;
    for (int64_t i = 0; i < 4 * n * TW_WAYS; i++)
        if (!is_near(d->shapes[i]))
            return 0;
    for (int64_t i = 0; i < 2 * d->ports_n * TW_WAYS; i++)
        if (!is_near(d->ports[i]))
            return 0;
    for (int64_t i = 0; i < n; i++)
        for (int axis = 0; axis < 2; axis++)
            if (!is_near(d->at[2 * i + axis]) || !is_near(d->fixed[3 * i + 1 + axis]))
                return 0;
    for (int64_t i = 0; i < d->pins_n; i++)
        if (d->reach[i] < -1 || !is_near(d->reach[i]))
            return 0;
    for (int64_t i = 0; i < 2 * d->taken_n; i++)
        if (d->taken[i] < 0 || d->taken[i] > d->room[i % 2] + 1)
            return 0;
    return all_below(d->pins, 2 * d->pins_n, 2, n) && all_below(d->pins + 1, 2 * d->pins_n - 1, 2, d->ports_n) &&
           all_below(d->own_nets, d->own_n, 1, d->nets_n) && all_below(d->ways, d->ways_n, 1, TW_WAYS) &&
           all_below(d->way, n, 1, TW_WAYS) && all_below(d->fixed, 3 * n, 3, TW_KEEPS_SOUTH + 1);
}

int32_t tw_anneal(const tw_anneal_data *d, int64_t first, int64_t last, int64_t moves, int64_t into[2]) {
    if (!d || !into || first < 0 || last < first || last - first > INT32_MAX || moves < last || moves < 1 ||
        !in_bounds(d))
        return TW_BAD_SIZE;
    size_t nets = d->nets_n ? (size_t)d->nets_n : 1;
    tw_places p = {.d = d, .wide = d->room[0] + 2, .deep = d->room[1] + 2};
    p.count = calloc((size_t)p.wide * (size_t)p.deep, sizeof *p.count);
    p.length = calloc(nets, sizeof *p.length), p.fresh = calloc(nets, sizeof *p.fresh);
    p.stamp = calloc(nets, sizeof *p.stamp), p.touched = calloc(nets, sizeof *p.touched);
    int32_t status = p.count && p.length && p.fresh && p.stamp && p.touched ? TW_DONE : TW_NO_MEMORY;
    if (status == TW_DONE) {
        for (int64_t i = 0; i < d->taken_n; i++)
            p.count[(int64_t)d->taken[2 * i + 1] * p.wide + d->taken[2 * i]]++;
        for (int32_t i = 0; i < d->instances_n; i++)
            marked(&p, i, 1);
        for (int32_t i = 0; i < d->nets_n; i++)
            p.length[i] = net_length(d, i);
        int32_t longest = d->room[0] > d->room[1] ? d->room[0] : d->room[1];
        for (int64_t move = first; move < last; move++) {
            double done = (double)move / (double)moves;
            int32_t reach = (int32_t)((1 - done) * longest * 0.5);
            try_change(&p, d->hot * pow(d->cold / d->hot, done), reach > 1 ? reach : 1, d->overlap * (0.15 + done));
        }
        into[0] = into[1] = 0;
        for (int32_t i = 0; i < d->nets_n; i++)
            into[0] += p.length[i];
        for (int64_t i = 0; i < (int64_t)p.wide * p.deep; i++)
            into[1] += p.count[i] > 1 ? p.count[i] - 1 : 0;
    }
    free(p.count), free(p.length), free(p.fresh), free(p.stamp), free(p.touched);
    return status;
}
