/* A graph of states and the observers of a claim, walked together: every pair of a state and what is remembered of the
   presses before it, in the order of the fewest presses and then of the fewest steps to it.

   The row of a pair: the state of the circuit, the step's place on the grid of presses, and for each observer the steps
   since the last press and those left to come on, or a fault and its number. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

enum { TW_MOST_LIMITS = 64, TW_NONE = -1, TW_FAULT = -2 }; /* `since` is TW_FAULT - fault once there is one */

typedef struct {
    int32_t weight, steps; /* presses and steps of the cheapest way known */
    int32_t parent;        /* the pair before it on that way, -1 at the start */
    int32_t list;          /* what is done in the step to it, -1 hands off */
    int32_t expanded;
} tw_pair;

typedef struct {
    int32_t weight, steps;
    uint32_t serial, pair;
} tw_reached;

#define TW_PRODUCT_ARRAYS(X)                                                                                           \
    X(int32_t, rows)  /* rows[pair * width ...] */                                                                     \
    X(tw_pair, pairs) /* pairs[pair] */                                                                                \
    X(tw_spot, table) /* by hash */                                                                                    \
    X(tw_reached, heap)                                                                                                \
    X(int32_t, layer)   /* pairs expanded with as many presses as the last one */                                      \
    X(int32_t, row)     /* the row being made */                                                                       \
    X(int32_t, targets) /* the pairs that follow the one being expanded */

struct tw_product {
    TW_PRODUCT_ARRAYS(TW_DECLARE)
    tw_world *w; /* of the graph: where to go when memory is out */
    tw_graph *g;
    tw_limit limits[TW_MOST_LIMITS];
    uint32_t limits_n, width, serial;
    int32_t hands, grid, weight;
    int64_t expanded, edges;
};

void tw_product_free(tw_product *p) {
    if (!p)
        return;
#define TW_FREE_PRODUCT(type, name) free(p->name);
    TW_PRODUCT_ARRAYS(TW_FREE_PRODUCT)
    free(p);
}

/* --- observers ------------------------------------------------------------------------------------------------------
 */

static int32_t larger(int32_t a, int32_t b) {
    return a > b ? a : b;
}

static void fault(int32_t memory[2], int32_t code, int32_t number) {
    memory[0] = TW_FAULT - code;
    memory[1] = number;
}

/* What is remembered at the end of a step in which the output shows this level. */
static void observe(const tw_limit *limit, int32_t memory[2], bool pressed, int32_t level) {
    int32_t since = memory[0], left = memory[1], from = larger(limit->within, 0);
    int32_t cap = larger(from, larger(limit->at_least, limit->at_most));
    if (limit->never && level) {
        fault(memory, TW_COMES_ON, 0);
        return;
    }
    if (level > 0 && level < limit->lowest) {
        fault(memory, TW_TOO_LOW, level);
        return;
    }
    if (pressed)
        since = 0;
    else if (since != TW_NONE)
        since = since < cap ? since + 1 : cap;
    if (left != TW_NONE)
        left--;
    else if (pressed)
        left = limit->within;
    if (level)
        left = TW_NONE;
    if (left == 0)
        fault(memory, TW_NOT_YET_ON, 0);
    else if (since != TW_NONE && limit->at_least >= 0 && from <= since && since < limit->at_least && !level)
        fault(memory, TW_OFF_EARLY, since);
    else if (since != TW_NONE && limit->at_most >= 0 && since >= limit->at_most && level)
        fault(memory, TW_ON_LATE, since);
    else
        memory[0] = cap ? since : TW_NONE, memory[1] = left;
}

/* --- pairs that are known -------------------------------------------------------------------------------------------
 */

static uint32_t pair_place(const tw_product *p, const int32_t *row, uint32_t hash) {
    uint32_t mask = p->table_n - 1u, i = hash & mask;
    for (; p->table[i].number >= 0; i = (i + 1u) & mask) {
        const int32_t *known = p->rows + (size_t)p->table[i].number * p->width;
        if (p->table[i].hash == hash && !memcmp(known, row, p->width * sizeof *row))
            break;
    }
    return i;
}

static bool cheaper(const tw_reached *a, const tw_reached *b) {
    if (a->weight != b->weight)
        return a->weight < b->weight;
    return a->steps != b->steps ? a->steps < b->steps : a->serial < b->serial;
}

static void push_reached(tw_product *p, tw_reached one) {
    TW_KEEP(p, heap, p->heap_n + 1u);
    uint32_t at = p->heap_n++;
    for (; at > 0 && cheaper(&one, &p->heap[(at - 1u) / 2u]); at = (at - 1u) / 2u)
        p->heap[at] = p->heap[(at - 1u) / 2u];
    p->heap[at] = one;
}

static void pop_reached(tw_product *p) {
    tw_reached last = p->heap[--p->heap_n];
    uint32_t at = 0, n = p->heap_n;
    for (uint32_t child = 1; child < n; child = 2u * at + 1u) {
        if (child + 1u < n && cheaper(&p->heap[child + 1u], &p->heap[child]))
            child++;
        if (!cheaper(&p->heap[child], &last))
            break;
        p->heap[at] = p->heap[child];
        at = child;
    }
    if (n)
        p->heap[at] = last;
}

/* The pair of p->row, reached from another in this way; known from now on. */
static int32_t reach_pair(tw_product *p, tw_pair way) {
    TW_TABLE_ROOM(p, p->pairs_n);
    uint32_t hash = (uint32_t)hash_of((const uint32_t *)p->row, p->width);
    uint32_t place = pair_place(p, p->row, hash);
    int32_t pair = p->table[place].number;
    if (pair < 0) {
        TW_KEEP(p, rows, ((uint64_t)p->pairs_n + 1u) * p->width);
        memcpy(p->rows + (size_t)p->pairs_n * p->width, p->row, p->width * sizeof *p->row);
        TW_APPEND(p, pairs, way);
        pair = (int32_t)p->pairs_n - 1;
        p->table[place] = (tw_spot){hash, pair};
    } else {
        tw_pair *known = &p->pairs[pair];
        if (known->weight < way.weight || (known->weight == way.weight && known->steps <= way.steps))
            return pair;
        way.expanded = known->expanded;
        *known = way;
    }
    push_reached(p, (tw_reached){way.weight, way.steps, p->serial++, (uint32_t)pair});
    return pair;
}

/* --- the walk -------------------------------------------------------------------------------------------------------
 */

static void follow_move(tw_product *p, uint32_t pair, uint32_t move, int32_t next, int32_t presses) {
    const int32_t *from = p->rows + (size_t)pair * p->width;
    memcpy(p->row, from, p->width * sizeof *p->row);
    p->row[0] = next;
    p->row[1] = (from[1] + 1) % p->grid;
    for (uint32_t i = 0; i < p->limits_n; i++) {
        int32_t level = p->g->shown[(uint32_t)next * p->g->probes_n + (uint32_t)p->limits[i].output];
        observe(&p->limits[i], p->row + 2u + 2u * i, move > 0, level);
    }
    tw_pair before = p->pairs[pair];
    int32_t to =
        reach_pair(p, (tw_pair){before.weight + presses, before.steps + 1, (int32_t)pair, (int32_t)move - 1, 0});
    for (uint32_t i = 0; i < p->targets_n; i++)
        if (p->targets[i] == to)
            return;
    TW_APPEND(p, targets, to);
}

static void expand_pair(tw_product *p, uint32_t pair) {
    tw_graph *g = p->g;
    uint32_t state = (uint32_t)p->rows[(size_t)pair * p->width];
    bool may_press = p->rows[(size_t)pair * p->width + 1u] == 0;
    if (g->after[state * g->moves] < 0)
        explore(g, state);
    p->targets_n = 0;
    for (uint32_t move = 0; move < (may_press ? g->moves : 1u); move++) {
        int32_t next = g->after[state * g->moves + move];
        int32_t presses = move ? (int32_t)(g->start[move] - g->start[move - 1u]) : 0;
        if (next >= 0 && (p->hands < 0 || presses <= p->hands - p->pairs[pair].weight))
            follow_move(p, pair, move, next, presses);
    }
    p->pairs[pair].expanded = 1;
    p->edges += p->targets_n;
    p->expanded++;
}

static bool has_fault(const tw_product *p, uint32_t pair) {
    for (uint32_t i = 0; i < p->limits_n; i++)
        if (p->rows[(size_t)pair * p->width + 2u + 2u * i] <= TW_FAULT)
            return true;
    return false;
}

int32_t tw_product_walk(tw_product *p, int64_t most, int64_t limit, int32_t *at) {
    if (!p || most < 1 || limit < 0 || !at)
        return TW_BAD_SIZE;
    TW_TRY(p->w);
    for (int64_t end = p->expanded + (most < limit ? most : limit); p->expanded < end;) {
        while (p->heap_n && p->pairs[p->heap[0].pair].expanded)
            pop_reached(p);
        if (!p->heap_n)
            return TW_WALKED_ALL;
        if (p->expanded >= limit)
            return TW_WALK_LIMIT;
        uint32_t pair = p->heap[0].pair;
        *at = (int32_t)pair;
        if (has_fault(p, pair))
            return TW_WALK_FAULT;
        if (p->pairs[pair].weight > p->weight) {
            p->weight = p->pairs[pair].weight;
            return TW_WALK_LAYER;
        }
        pop_reached(p);
        TW_APPEND(p, layer, (int32_t)pair);
        expand_pair(p, pair);
    }
    return TW_MORE;
}

/* --- the interface --------------------------------------------------------------------------------------------------
 */

static bool good_limit(const tw_limit *limit, uint32_t probes_n) {
    const int32_t steps[] = {limit->within, limit->at_least, limit->at_most};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (steps[i] < TW_NONE || steps[i] > 100000000)
            return false;
    return limit->output >= 0 && (uint32_t)limit->output < probes_n && limit->lowest >= TW_NONE && limit->never >= 0 &&
           limit->never <= 1;
}

static int32_t start_product(tw_product *p) {
    TW_TRY(p->w);
    TW_KEEP(p, row, p->width);
    memset(p->row, 0xff, p->width * sizeof *p->row); /* TW_NONE: no press was seen yet */
    p->row[0] = p->row[1] = 0;
    reach_pair(p, (tw_pair){0, 0, -1, -1, 0});
    return TW_DONE;
}

tw_product *tw_product_new(tw_graph *g, const tw_limit *limits, int64_t limits_n, int32_t hands, int32_t grid,
                           int32_t *status) {
    if (!status)
        return NULL;
    *status = TW_BAD_SIZE;
    if (!g || limits_n < 0 || limits_n > TW_MOST_LIMITS || (limits_n && !limits) || hands < -1 || hands > 1000000 ||
        grid < 1 || grid > 1000000)
        return NULL;
    for (int64_t i = 0; i < limits_n; i++)
        if (!good_limit(&limits[i], g->probes_n))
            return NULL;
    *status = TW_NO_MEMORY;
    tw_product *p = calloc(1, sizeof *p);
    if (!p)
        return NULL;
    p->w = g->w, p->g = g;
    p->limits_n = (uint32_t)limits_n, p->width = 2u + 2u * p->limits_n;
    p->hands = hands, p->grid = grid;
    if (limits_n)
        memcpy(p->limits, limits, (size_t)limits_n * sizeof *limits);
    *status = start_product(p);
    if (*status == TW_DONE)
        return p;
    tw_product_free(p);
    return NULL;
}

int64_t tw_product_pairs(const tw_product *p) {
    return p ? (int64_t)p->pairs_n : TW_BAD_SIZE;
}

int64_t tw_product_expanded(const tw_product *p) {
    return p ? p->expanded : TW_BAD_SIZE;
}

int64_t tw_product_edges(const tw_product *p) {
    return p ? p->edges : TW_BAD_SIZE;
}

int32_t tw_product_read(const tw_product *p, int64_t pair, int32_t *row, int64_t row_n, int32_t cost[2]) {
    if (!p || pair < 0 || pair >= p->pairs_n || row_n != p->width || !row || !cost)
        return TW_BAD_SIZE;
    memcpy(row, p->rows + (size_t)pair * p->width, p->width * sizeof *row);
    cost[0] = p->pairs[pair].weight, cost[1] = p->pairs[pair].steps;
    return TW_DONE;
}

int64_t tw_product_way(const tw_product *p, int64_t pair, int32_t *lists, int64_t lists_n) {
    if (!p || pair < 0 || pair >= p->pairs_n || lists_n < p->pairs[pair].steps || (lists_n && !lists))
        return TW_BAD_SIZE;
    int32_t steps = p->pairs[pair].steps;
    for (int32_t i = steps; i-- > 0; pair = p->pairs[pair].parent)
        lists[i] = p->pairs[pair].list;
    return steps;
}

int64_t tw_product_layer(tw_product *p, int32_t *pairs, int32_t *states, int64_t n) {
    if (!p || n < 0 || (n && (!pairs || !states)))
        return TW_BAD_SIZE;
    uint32_t taken = n < (int64_t)p->layer_n ? (uint32_t)n : p->layer_n;
    for (uint32_t i = 0; i < taken; i++) {
        pairs[i] = p->layer[i];
        states[i] = p->rows[(size_t)p->layer[i] * p->width];
    }
    if (taken)
        memmove(p->layer, p->layer + taken, (p->layer_n - taken) * sizeof *p->layer);
    p->layer_n -= taken;
    return taken;
}
