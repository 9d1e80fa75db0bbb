/* The room that nets are routed through, what each net takes of it, and the search under way. */

#ifndef TW_ROUTER_H
#define TW_ROUTER_H

#include "tw.h"
#include <stdlib.h>
#include <string.h>

enum {
    TW_FREE_CELL = 0,
    TW_CLOSED_CELL = -1,
    TW_NO_PART = -2,    /* no wire of the net touches the cell */
    TW_MANY_PARTS = -3, /* wires of several parts of the net do */
    TW_NEW_PART = -1,   /* behind a repeater that is being laid */
    TW_MOST_POPS = 60000,
    TW_MOST_GROUND = 40000000
};

typedef struct {
    int32_t cell, level, part, repeaters;
} tw_wire_spot;

typedef struct {
    int32_t cell, facing;
} tw_turned;

typedef struct {
    int32_t first, last; /* its cells in goal_cells */
    int32_t need, most_repeaters;
    int32_t met; /* the wire that meets it, or -1 */
} tw_goal;

typedef struct {
    int32_t number, level;
    int32_t *starts, starts_n;
    int32_t *goal_cells;
    tw_goal *goals;
    int32_t goals_n;
    tw_wire_spot *spots; /* the tree as routed */
    tw_turned *turned;
    int32_t *airs;
    int32_t spots_n, spots_cap, turned_n, turned_cap, airs_n, airs_cap;
} tw_net;

typedef struct {
    double cost;
    int32_t cell, level, before, repeater, air, part, repeaters, facing;
} tw_way_node;

typedef struct {
    double key;
    int32_t level, index;
} tw_way_next;

struct tw_router {
    int32_t wide, deep, high, n, layer, loss;
    int32_t *wire, *block;
    uint8_t *cuts;
    int32_t *load, *taken, *airs, *supports; /* n + layer of each: how many claims */
    double *history;
    int32_t *xs, *ys, *zs;
    /* the net being grown, by cell; 0 or none when no net is */
    uint8_t *own;      /* bits: taken, air, support, spot */
    int32_t *touching; /* a part, TW_NO_PART or TW_MANY_PARTS */
    int32_t *seen;     /* level, while stamp[cell] is the search's */
    int32_t *stamp, search;
    uint8_t *is_goal;
    tw_way_node *nodes;
    int32_t nodes_n, nodes_cap;
    tw_way_next *heap;
    int32_t heap_n, heap_cap;
    tw_net *nets;
    int32_t nets_n, nets_cap;
    int64_t pops;
};

enum { TW_OWN_TAKEN = 1, TW_OWN_AIR = 2, TW_OWN_SUPPORT = 4, TW_OWN_SPOT = 8 };

/* Makes room for one more; 0 where memory is out. */
static int more_room(void **array, int32_t *cap, int32_t count, size_t size) {
    if (count < *cap)
        return 1;
    int32_t wanted = *cap ? *cap * 2 : 16;
    void *grown = realloc(*array, (size_t)wanted * size);
    if (!grown)
        return 0;
    *array = grown;
    *cap = wanted;
    return 1;
}
#define TW_ONE_MORE(array, cap, count) more_room((void **)&(array), &(cap), (count), sizeof *(array))

static const int32_t climb_x[4] = {0, 0, 1, -1}, climb_y[4] = {-1, 1, 0, 0}, climb_z[3] = {0, 1, -1};

/* The cell that lies so far from a cell, or -1 where that is outside. */
static int32_t by(const tw_router *r, int32_t cell, int32_t dx, int32_t dy, int32_t dz) {
    int32_t x = r->xs[cell] + dx, y = r->ys[cell] + dy, z = r->zs[cell] + dz;
    if (x < 0 || y < 0 || z < 0 || x >= r->wide || y >= r->deep || z >= r->high)
        return -1;
    return cell + dx + dy * r->wide + dz * r->layer;
}

#endif
