/* The room that nets are routed through: what stands there for good, what nets have claimed, who claims what others do.
   layout/ground.py says the same in Python. Cells are numbers, (z * deep + y) * wide + x. */

#include "router.h"

static const double conflict_history = 0.7; /* by which a cell grows dearer each round that it is wanted twice */

void tw_router_free(tw_router *r) {
    if (!r)
        return;
    for (int32_t i = 0; i < r->nets_n; i++) {
        tw_net *net = r->nets + i;
        free(net->starts), free(net->goal_cells), free(net->goals), free(net->spots), free(net->turned);
        free(net->airs);
    }
    free(r->wire), free(r->block), free(r->cuts), free(r->load), free(r->taken), free(r->airs), free(r->supports);
    free(r->history), free(r->xs), free(r->ys), free(r->zs), free(r->own), free(r->touching), free(r->seen);
    free(r->stamp), free(r->is_goal), free(r->nodes), free(r->heap), free(r->nets), free(r);
}

static void *copied(const void *from, size_t count, size_t size) {
    void *made = calloc(count ? count : 1, size);
    if (made && count)
        memcpy(made, from, count * size);
    return made;
}

static int allocated(tw_router *r, const int32_t *wire, const int32_t *block, const uint8_t *cuts) {
    size_t n = (size_t)r->n, more = n + (size_t)r->layer;
    r->wire = copied(wire, n, sizeof *wire), r->block = copied(block, n, sizeof *block);
    r->cuts = copied(cuts, n, 1);
    r->load = calloc(more, sizeof *r->load), r->taken = calloc(more, sizeof *r->taken);
    r->airs = calloc(more, sizeof *r->airs), r->supports = calloc(more, sizeof *r->supports);
    r->history = calloc(n, sizeof *r->history);
    r->xs = calloc(n, sizeof *r->xs), r->ys = calloc(n, sizeof *r->ys), r->zs = calloc(n, sizeof *r->zs);
    r->own = calloc(n, 1), r->is_goal = calloc(n, 1);
    r->touching = calloc(n, sizeof *r->touching), r->seen = calloc(n, sizeof *r->seen);
    r->stamp = calloc(n, sizeof *r->stamp);
    return r->wire && r->block && r->cuts && r->load && r->taken && r->airs && r->supports && r->history && r->xs &&
           r->ys && r->zs && r->own && r->is_goal && r->touching && r->seen && r->stamp;
}

tw_router *tw_router_new(const int32_t size[3], const int32_t *wire, const int32_t *block, const uint8_t *cuts,
                         int64_t n, int32_t loss, int32_t *status) {
    if (!size || !wire || !block || !cuts || !status)
        return NULL;
    *status = TW_BAD_SIZE;
    for (int i = 0; i < 3; i++)
        if (size[i] < 1 || size[i] > TW_MOST_GROUND)
            return NULL;
    int64_t layer = (int64_t)size[0] * size[1];
    if (layer > TW_MOST_GROUND || layer * size[2] > TW_MOST_GROUND || layer * size[2] != n || loss < 1)
        return NULL;
    tw_router *r = calloc(1, sizeof *r);
    *status = TW_NO_MEMORY;
    if (!r)
        return NULL;
    r->wide = size[0], r->deep = size[1], r->high = size[2], r->n = (int32_t)n, r->layer = (int32_t)layer;
    r->loss = loss;
    if (!allocated(r, wire, block, cuts)) {
        tw_router_free(r);
        return NULL;
    }
    for (int32_t i = 0; i < r->n; i++) {
        r->xs[i] = i % r->wide, r->ys[i] = i / r->wide % r->deep, r->zs[i] = i / r->layer;
        r->touching[i] = TW_NO_PART;
    }
    *status = TW_DONE;
    return r;
}

static int on_ground(const tw_router *r, const int32_t *cells, int64_t n) {
    for (int64_t i = 0; i < n; i++)
        if (cells[i] < r->layer || cells[i] >= r->n)
            return 0;
    return 1;
}

int32_t tw_router_net(tw_router *r, int32_t number, int32_t level, const int32_t *starts, int64_t starts_n,
                      const int32_t *cells, int64_t cells_n, const int32_t *goals, int64_t goals_n) {
    if (!r || number < 1 || level < 1 || level > 15 || starts_n < 0 || cells_n < 0 || goals_n < 0 ||
        (starts_n && !starts) || (cells_n && !cells) || (goals_n && !goals) || starts_n > r->n || cells_n > r->n ||
        goals_n > r->n || !on_ground(r, starts, starts_n) || !on_ground(r, cells, cells_n))
        return TW_BAD_SIZE;
    int32_t at = 0;
    for (int64_t i = 0; i < goals_n; i++) {
        const int32_t *row = goals + 3 * i;
        if (row[0] < at || row[0] > cells_n || row[2] < 0)
            return TW_BAD_SIZE;
        at = row[0];
    }
    if (!TW_ONE_MORE(r->nets, r->nets_cap, r->nets_n))
        return TW_NO_MEMORY;
    tw_net *net = r->nets + r->nets_n;
    memset(net, 0, sizeof *net);
    net->number = number, net->level = level;
    net->starts = copied(starts, (size_t)starts_n, sizeof *starts), net->starts_n = (int32_t)starts_n;
    net->goal_cells = copied(cells, (size_t)cells_n, sizeof *cells);
    net->goals = calloc(goals_n ? (size_t)goals_n : 1, sizeof *net->goals), net->goals_n = (int32_t)goals_n;
    if (!net->starts || !net->goal_cells || !net->goals) {
        free(net->starts), free(net->goal_cells), free(net->goals);
        return TW_NO_MEMORY;
    }
    r->nets_n++;
    at = 0;
    for (int64_t i = 0; i < goals_n; i++) {
        const int32_t *row = goals + 3 * i;
        net->goals[i] = (tw_goal){at, row[0], row[1], row[2], -1};
        at = row[0];
    }
    return r->nets_n - 1;
}

/* --- claims --------------------------------------------------------------------------------------------------------
 */

static void claim_place(tw_router *r, int32_t here, int32_t sign) {
    int32_t under = here - r->layer;
    r->load[here] += sign, r->load[here + r->layer] += sign, r->load[under] += sign;
    r->taken[here] += sign, r->taken[under] += sign, r->supports[under] += sign;
}

static void claim(tw_router *r, const tw_net *net, int32_t sign) {
    for (int32_t i = 0; i < net->spots_n; i++) {
        int32_t here = net->spots[i].cell;
        for (int k = 0; k < 12; k++) {
            int32_t near = by(r, here, climb_x[k % 4], climb_y[k % 4], climb_z[k / 4]);
            if (near >= 0)
                r->load[near] += sign;
        }
        claim_place(r, here, sign);
    }
    for (int32_t i = 0; i < net->turned_n; i++)
        claim_place(r, net->turned[i].cell, sign);
    for (int32_t i = 0; i < net->airs_n; i++) {
        r->load[net->airs[i] + r->layer] += sign;
        r->airs[net->airs[i]] += sign;
    }
}

/* How many cells of a net, itself not claimed now, conflict with claims of others; each grows dearer by `dearer`. */
static int32_t conflicts(tw_router *r, const tw_net *net, double dearer) {
    int32_t count = 0;
    for (int32_t i = 0; i < net->spots_n; i++)
        if (r->load[net->spots[i].cell])
            r->history[net->spots[i].cell] += dearer, count++;
    for (int32_t i = 0; i < net->turned_n; i++) {
        int32_t here = net->turned[i].cell, under = here - r->layer;
        if (r->taken[here] || r->taken[under] || r->airs[under])
            r->history[here] += dearer, count++;
    }
    for (int32_t i = 0; i < net->airs_n; i++)
        if (r->supports[net->airs[i]])
            r->history[net->airs[i]] += dearer, count++;
    return count;
}

static int is_whole(const tw_net *net) {
    for (int32_t i = 0; i < net->goals_n; i++)
        if (net->goals[i].met < 0)
            return 0;
    return 1;
}

int64_t tw_router_unhappy(tw_router *r, int32_t *into, int64_t into_n) {
    if (!r || !into || into_n < r->nets_n)
        return TW_BAD_SIZE;
    int64_t count = 0;
    for (int32_t i = 0; i < r->nets_n; i++) {
        claim(r, r->nets + i, -1);
        int32_t bad = conflicts(r, r->nets + i, conflict_history);
        claim(r, r->nets + i, 1);
        if (bad || !is_whole(r->nets + i))
            into[count++] = i;
    }
    return count;
}

static void emptied(tw_net *net) {
    net->spots_n = net->turned_n = net->airs_n = 0;
    for (int32_t i = 0; i < net->goals_n; i++)
        net->goals[i].met = -1;
}

int32_t tw_router_drop(tw_router *r) {
    if (!r)
        return TW_BAD_SIZE;
    for (;;) {
        int32_t worst = -1, most = 0;
        for (int32_t i = 0; i < r->nets_n; i++) {
            claim(r, r->nets + i, -1);
            int32_t count = conflicts(r, r->nets + i, 0.0);
            claim(r, r->nets + i, 1);
            if (count > most)
                worst = i, most = count;
        }
        if (worst < 0)
            return TW_DONE;
        claim(r, r->nets + worst, -1);
        emptied(r->nets + worst);
    }
}

int64_t tw_router_pops(const tw_router *r) {
    return r ? r->pops : TW_BAD_SIZE;
}

int64_t tw_router_read(const tw_router *r, int32_t which, int32_t what, int32_t *into, int64_t into_n) {
    if (!r || which < 0 || which >= r->nets_n || what < 0 || what > 2 || into_n < 0 || (into_n && !into))
        return TW_BAD_SIZE;
    const tw_net *net = r->nets + which;
    int64_t n = what == 0 ? 4 * (int64_t)net->spots_n : what == 1 ? 2 * (int64_t)net->turned_n : net->goals_n;
    for (int64_t i = 0; i < n && i < into_n; i++) {
        if (what == 0) {
            const tw_wire_spot *spot = net->spots + i / 4;
            int32_t row[4] = {spot->cell, spot->level, spot->part, spot->repeaters};
            into[i] = row[i % 4];
        } else
            into[i] = what == 2 ? net->goals[i].met : i % 2 ? net->turned[i / 2].facing : net->turned[i / 2].cell;
    }
    return n;
}
