/* Nets routed through a room of cells: each way is found by A* over cells and levels, wires and repeaters; what several
   nets want grows dearer until one has it (McMurchie and Ebeling, PathFinder, 1995). layout/routing.py says the same in
   Python, and finds the same ways. */

#include "router.h"

static const double repeater_cost = 5.0;

/* --- one way -------------------------------------------------------------------------------------------------------
 */

static int cheaper_first(const tw_way_next *a, const tw_way_next *b) {
    if (a->key < b->key || b->key < a->key)
        return a->key < b->key;
    return a->level != b->level ? a->level > b->level : a->index < b->index;
}

static int push(tw_router *r, double key, tw_way_node node) {
    if (!TW_ONE_MORE(r->nodes, r->nodes_cap, r->nodes_n) || !TW_ONE_MORE(r->heap, r->heap_cap, r->heap_n))
        return 0;
    tw_way_next next = {key, node.level, r->nodes_n};
    r->nodes[r->nodes_n++] = node;
    int32_t at = r->heap_n++;
    for (; at; at = (at - 1) / 2) {
        if (!cheaper_first(&next, r->heap + (at - 1) / 2))
            break;
        r->heap[at] = r->heap[(at - 1) / 2];
    }
    r->heap[at] = next;
    return 1;
}

static int32_t popped(tw_router *r) {
    int32_t index = r->heap[0].index;
    tw_way_next last = r->heap[--r->heap_n];
    int32_t at = 0;
    for (;;) {
        int32_t child = 2 * at + 1;
        if (child >= r->heap_n)
            break;
        if (child + 1 < r->heap_n && cheaper_first(r->heap + child + 1, r->heap + child))
            child++;
        if (!cheaper_first(r->heap + child, &last))
            break;
        r->heap[at] = r->heap[child];
        at = child;
    }
    r->heap[at] = last;
    return index;
}

static int32_t outside(int32_t at, int32_t low, int32_t high) {
    return at < low ? low - at : at > high ? at - high : 0;
}

typedef struct {
    double price;
    int32_t number, most_repeaters;
    int32_t low[3], high[3]; /* the box of the goal's cells */
} tw_aim;

static int32_t far_from(const tw_router *r, const tw_aim *aim, int32_t cell) {
    int32_t flat = outside(r->xs[cell], aim->low[0], aim->high[0]) + outside(r->ys[cell], aim->low[1], aim->high[1]);
    int32_t up = outside(r->zs[cell], aim->low[2], aim->high[2]);
    return flat > up ? flat : up;
}

static int open_to(int32_t what, int32_t number) {
    return what == TW_FREE_CELL || what == number;
}

static int touches(const tw_router *r, int32_t a, int32_t b) {
    int32_t flat = abs(r->xs[a] - r->xs[b]) + abs(r->ys[a] - r->ys[b]);
    return flat == 1 && abs(r->zs[a] - r->zs[b]) <= 1;
}

/* Whether the last step of a way leaves alone what the way itself has taken before. */
static int is_clear(const tw_router *r, const tw_way_node *node) {
    int32_t layer = r->layer, cell = node->cell, under = cell - layer, air = node->air;
    int32_t rep = node->repeater, rep_under = rep < 0 ? -1 : rep - layer;
    int same = rep < 0, first = 1;
    for (int32_t index = node->before; index >= 0; first = 0, index = r->nodes[index].before) {
        const tw_way_node *old = r->nodes + index;
        int32_t own[3] = {old->cell, old->cell - layer, old->air};
        for (int i = 0; i < 3; i++)
            if (own[i] >= 0 &&
                (own[i] == cell || own[i] == under || (rep >= 0 && (own[i] == rep || own[i] == rep_under))))
                return 0;
        if (air == own[1] || (!first && !same && touches(r, old->cell, cell)))
            return 0;
        if (old->repeater >= 0) {
            int32_t behind = old->repeater, below = behind - layer;
            if (behind == cell || behind == under || below == cell || below == under || air == below)
                return 0;
            if (rep >= 0 && (behind == rep || behind == rep_under || below == rep || below == rep_under))
                return 0;
            same = 0;
        }
    }
    return 1;
}

/* The wires that may follow the wire of a node. */
static int add_steps(tw_router *r, const tw_aim *aim, int32_t index) {
    tw_way_node node = r->nodes[index];
    int32_t lower = node.level - r->loss, layer = r->layer;
    if (lower < 1)
        return 1;
    for (int k = 0; k < 12; k++) {
        int32_t dz = climb_z[k / 4], there = by(r, node.cell, climb_x[k % 4], climb_y[k % 4], dz);
        if (there < layer)
            continue;
        int32_t under = there - layer, air = dz == 0 ? -1 : dz == 1 ? node.cell + layer : there + layer;
        if ((air >= 0 && r->cuts[air]) || (r->stamp[there] == r->search && r->seen[there] >= lower))
            continue;
        if ((r->own[there] & TW_OWN_TAKEN) || !open_to(r->wire[there], aim->number) ||
            !open_to(r->block[under], aim->number) || (r->own[under] & (TW_OWN_TAKEN | TW_OWN_AIR)))
            continue;
        int32_t touched = r->touching[there];
        if (touched != TW_NO_PART && (node.part < 0 || touched != node.part))
            continue;
        double extra = r->history[there] + aim->price * r->load[there];
        if (air >= 0) {
            if (r->own[air] & TW_OWN_SUPPORT)
                continue;
            extra += aim->price * r->supports[air];
        }
        double total = node.cost + 1 + extra;
        tw_way_node next = {total, there, lower, index, -1, air, node.part, node.repeaters, -1};
        if (!push(r, total + far_from(r, aim, there), next))
            return 0;
    }
    return 1;
}

/* The repeaters that may follow the wire of a node, each with a wire behind its front. */
static int add_repeaters(tw_router *r, const tw_aim *aim, int32_t index) {
    tw_way_node node = r->nodes[index];
    int32_t layer = r->layer;
    if (node.repeaters >= aim->most_repeaters)
        return 1;
    for (int32_t k = 0; k < 4; k++) {
        int32_t there = by(r, node.cell, 2 * climb_x[k], 2 * climb_y[k], 0);
        if (there < 0)
            continue;
        int32_t middle = by(r, node.cell, climb_x[k], climb_y[k], 0), under = there - layer, below = middle - layer;
        if (r->wire[middle] != TW_FREE_CELL || r->block[below] != TW_FREE_CELL ||
            (r->stamp[there] == r->search && r->seen[there] >= 15))
            continue;
        if (!open_to(r->wire[there], aim->number) || !open_to(r->block[under], aim->number))
            continue;
        if (((r->own[there] | r->own[middle]) & TW_OWN_TAKEN) ||
            ((r->own[under] | r->own[below]) & (TW_OWN_TAKEN | TW_OWN_AIR)) || r->touching[there] != TW_NO_PART)
            continue;
        double extra = r->history[there] + r->history[middle] + aim->price * r->load[there];
        extra += aim->price * (r->taken[middle] + r->taken[below] + r->airs[below]);
        double total = node.cost + repeater_cost + extra;
        tw_way_node next = {total, there, 15, index, middle, -1, TW_NEW_PART, node.repeaters + 1, k};
        if (!push(r, total + far_from(r, aim, there), next))
            return 0;
    }
    return 1;
}

/* What a way may begin with: every wire of the tree, and the cells at the driver. */
static int add_starts(tw_router *r, const tw_net *net, const tw_aim *aim) {
    for (int32_t i = 0; i < net->spots_n; i++) {
        const tw_wire_spot *spot = net->spots + i;
        tw_way_node node = {0.0, spot->cell, spot->level, -1, -1, -1, spot->part, spot->repeaters, -1};
        if (!push(r, far_from(r, aim, spot->cell), node))
            return 0;
    }
    for (int32_t i = 0; i < net->starts_n; i++) {
        int32_t cell = net->starts[i], under = cell - r->layer, touched = r->touching[cell];
        int is_free = open_to(r->wire[cell], net->number) && open_to(r->block[under], net->number);
        if (!is_free || (r->own[cell] & (TW_OWN_TAKEN | TW_OWN_SPOT)) ||
            (r->own[under] & (TW_OWN_TAKEN | TW_OWN_AIR)) || (touched != TW_NO_PART && touched != 0))
            continue;
        double cost = 1 + r->history[cell] + aim->price * r->load[cell];
        tw_way_node node = {cost, cell, net->level, -1, -1, -1, 0, 0, -1};
        if (!push(r, cost + far_from(r, aim, cell), node))
            return 0;
    }
    return 1;
}

/* The last node of the cheapest way to the goal, -1 if there is none, or TW_NO_MEMORY - 1. */
static int32_t searched(tw_router *r, const tw_net *net, const tw_goal *goal, const tw_aim *aim) {
    r->nodes_n = r->heap_n = 0;
    r->search++;
    if (!add_starts(r, net, aim))
        return TW_NO_MEMORY - 1;
    for (int32_t pops = 0; r->heap_n;) {
        int32_t index = popped(r);
        tw_way_node node = r->nodes[index];
        if (r->stamp[node.cell] == r->search && r->seen[node.cell] >= node.level)
            continue;
        if (node.before >= 0 && !is_clear(r, &node))
            continue;
        r->stamp[node.cell] = r->search, r->seen[node.cell] = node.level;
        if (r->is_goal[node.cell] && node.level >= goal->need)
            return index;
        r->pops++;
        if (++pops > TW_MOST_POPS)
            return -1;
        if (!add_steps(r, aim, index) || !add_repeaters(r, aim, index))
            return TW_NO_MEMORY - 1;
    }
    return -1;
}

/* --- one net -------------------------------------------------------------------------------------------------------
 */

static void mark_place(tw_router *r, int32_t cell) {
    r->own[cell] |= TW_OWN_TAKEN;
    r->own[cell - r->layer] |= TW_OWN_TAKEN | TW_OWN_SUPPORT;
}

static int add_node(tw_router *r, tw_net *net, const tw_way_node *node, int32_t part) {
    if (!TW_ONE_MORE(net->spots, net->spots_cap, net->spots_n) ||
        !TW_ONE_MORE(net->turned, net->turned_cap, net->turned_n) ||
        !TW_ONE_MORE(net->airs, net->airs_cap, net->airs_n))
        return 0;
    if (node->repeater >= 0) {
        net->turned[net->turned_n++] = (tw_turned){node->repeater, node->facing};
        mark_place(r, node->repeater);
    }
    if (node->air >= 0 && !(r->own[node->air] & TW_OWN_AIR)) {
        net->airs[net->airs_n++] = node->air;
        r->own[node->air] |= TW_OWN_AIR;
    }
    if (r->own[node->cell] & TW_OWN_SPOT)
        return 1;
    net->spots[net->spots_n++] = (tw_wire_spot){node->cell, node->level, part, node->repeaters};
    r->own[node->cell] |= TW_OWN_SPOT;
    mark_place(r, node->cell);
    for (int k = 0; k < 12; k++) {
        int32_t near = by(r, node->cell, climb_x[k % 4], climb_y[k % 4], climb_z[k / 4]);
        if (near >= 0)
            r->touching[near] = r->touching[near] == TW_NO_PART || r->touching[near] == part ? part : TW_MANY_PARTS;
    }
    return 1;
}

/* Lays the way that ends with a node; the number of parts that the net has now, 0 where memory is out. */
static int32_t add_way(tw_router *r, tw_net *net, int32_t last, int32_t parts) {
    int32_t before = -1;
    for (int32_t at = last; at >= 0;) { /* turned round, so that `before` leads to what follows */
        int32_t next = r->nodes[at].before;
        r->nodes[at].before = before;
        before = at, at = next;
    }
    int32_t own = parts - 1, count = -1;
    for (int32_t at = before; at >= 0; at = r->nodes[at].before) {
        tw_way_node node = r->nodes[at];
        int32_t part = node.part;
        if (part < 0) {
            if (node.repeaters != count)
                own++, count = node.repeaters;
            part = own;
        }
        if (!add_node(r, net, &node, part))
            return 0;
    }
    return own + 1;
}

/* Takes the marks of the net being grown off the ground again. */
static void unmark(tw_router *r, const tw_net *net) {
    for (int32_t i = 0; i < net->spots_n + net->turned_n; i++) {
        int32_t cell = i < net->spots_n ? net->spots[i].cell : net->turned[i - net->spots_n].cell;
        r->own[cell] = r->own[cell - r->layer] = 0;
        for (int k = 0; k < 12; k++) {
            int32_t near = by(r, cell, climb_x[k % 4], climb_y[k % 4], climb_z[k / 4]);
            if (near >= 0)
                r->touching[near] = TW_NO_PART;
        }
    }
    for (int32_t i = 0; i < net->airs_n; i++)
        r->own[net->airs[i]] = 0;
}

static int32_t routed(tw_router *r, tw_net *net, tw_goal *goal, double price, int32_t *parts) {
    tw_aim aim = {price, net->number, goal->most_repeaters, {r->wide, r->deep, r->high}, {0, 0, 0}};
    for (int32_t i = goal->first; i < goal->last; i++) {
        int32_t at[3] = {r->xs[net->goal_cells[i]], r->ys[net->goal_cells[i]], r->zs[net->goal_cells[i]]};
        for (int k = 0; k < 3; k++) {
            aim.low[k] = at[k] < aim.low[k] ? at[k] : aim.low[k];
            aim.high[k] = at[k] > aim.high[k] ? at[k] : aim.high[k];
        }
        r->is_goal[net->goal_cells[i]] = 1;
    }
    int32_t last = goal->first < goal->last ? searched(r, net, goal, &aim) : -1;
    for (int32_t i = goal->first; i < goal->last; i++)
        r->is_goal[net->goal_cells[i]] = 0;
    if (last == TW_NO_MEMORY - 1)
        return TW_NO_MEMORY;
    if (last < 0)
        return TW_DONE;
    goal->met = r->nodes[last].cell;
    *parts = add_way(r, net, last, *parts);
    return *parts ? TW_DONE : TW_NO_MEMORY;
}

int32_t tw_router_reroute(tw_router *r, int32_t which, double price) {
    if (!r || which < 0 || which >= r->nets_n)
        return TW_BAD_SIZE;
    tw_net *net = r->nets + which;
    claim(r, net, -1);
    emptied(net);
    int32_t parts = 1, status = TW_DONE;
    for (int32_t i = 0; i < net->goals_n && status == TW_DONE; i++)
        status = routed(r, net, net->goals + i, price, &parts);
    unmark(r, net);
    claim(r, net, 1);
    return status;
}
