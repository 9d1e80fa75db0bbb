/* All layouts of a small box, cell by cell: which can stand, which are the largest of their mirror images, in which
   every part matters to some cell; these are run, and each such cell's on and off is judged once per pattern. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

enum { TW_MOST_CELLS = 32, TW_MOST_EDGES = 24, TW_MOST_SYMMETRIES = 8, TW_FIRST_ROOM = 1 << 12 };

/* What one cell did from the first act on: the steps in which it went on and off by turns. */
typedef struct {
    int64_t edges[TW_MOST_EDGES];
    int32_t n, flags;
    bool on;
} lane;

/* The same, as it is kept once it is judged. */
typedef struct {
    uint64_t hash;  /* 0: unused */
    uint64_t first; /* edges[first ...] */
    int32_t n, flags, verdict;
} pattern;

typedef struct {
    tw_world *w;
    const tw_layouts_data *d;
    tw_judge judge;
    tw_take take;
    int64_t *counts;
    int32_t most[TW_MOST_VERDICTS];
    int32_t n;                                        /* cells in the box */
    int32_t beside[TW_MOST_CELLS][6];                 /* the cell in that direction, -1 outside the box */
    uint32_t near[TW_MOST_CELLS];                     /* cells beside it, or beside and a level up or down */
    int32_t image[TW_MOST_SYMMETRIES][TW_MOST_CELLS]; /* which cell comes to lie there */
    uint8_t option[TW_MOST_CELLS];                    /* what is laid: 0 nothing, else a place in the palette, plus 1 */
    uint8_t aloft[256]; /* the options that need nothing under them, the first `aloft_n` */
    int32_t aloft_n;
    uint8_t leaned[TW_MOST_CELLS]; /* so many parts that are laid already hang on this cell, which comes later */
    int32_t triggers, parts;
    int32_t fixed; /* so many cells are given */
    const uint8_t *prefix;
    pattern *table;
    uint32_t table_n, table_room;
    int64_t *edges; /* of all patterns */
    uint64_t edges_n, edges_room;
    int32_t status;
} search;

static const tw_part *laid(const search *s, int32_t cell) {
    return s->option[cell] ? &s->d->palette[s->option[cell] - 1] : NULL;
}

static bool is_trigger(const tw_part *p) {
    return p->role == TW_BUTTON || p->role == TW_LEVER;
}

/* --- the box ------------------------------------------------------------------------------------------------------ */

/* Cells lie column by column, each from below; columns from west to east, then from north to south. */
static int32_t cell_at(const tw_layouts_data *d, int32_t x, int32_t y, int32_t z) {
    bool in = x >= 0 && x < d->nx && y >= 0 && y < d->ny && z >= 0 && z < d->nz;
    return in ? (y * d->nx + x) * d->nz + z : -1;
}

static tw_cell place_of(const tw_layouts_data *d, int32_t cell) {
    int32_t column = cell / d->nz;
    return (tw_cell){column % d->nx, column / d->nx, cell % d->nz};
}

static int32_t imaged(const tw_layouts_data *d, int32_t symmetry, tw_cell c) {
    if (symmetry & 1)
        c.x = d->nx - 1 - c.x;
    if (symmetry & 2)
        c.y = d->ny - 1 - c.y;
    return symmetry & 4 ? cell_at(d, c.y, c.x, c.z) : cell_at(d, c.x, c.y, c.z);
}

static void make_box(search *s) {
    s->n = s->d->nx * s->d->ny * s->d->nz;
    for (int32_t option = 0; option <= s->d->palette_n; option++)
        if (!option || s->d->palette[option - 1].support != 1)
            s->aloft[s->aloft_n++] = (uint8_t)option;
    for (int32_t cell = 0; cell < s->n; cell++) {
        tw_cell c = place_of(s->d, cell);
        for (int dir = 0; dir < 6; dir++) {
            int32_t beside = cell_at(s->d, c.x + TW_DX[dir], c.y + TW_DY[dir], c.z + TW_DZ[dir]);
            s->beside[cell][dir] = beside;
            if (beside >= 0)
                s->near[cell] |= 1u << beside;
            for (int up = -1; up <= 1 && dir < TW_UP; up += 2) {
                int32_t slant = cell_at(s->d, c.x + TW_DX[dir], c.y + TW_DY[dir], c.z + up);
                if (slant >= 0)
                    s->near[cell] |= 1u << slant;
            }
        }
        for (int32_t i = 0; i < s->d->symmetries_n; i++)
            s->image[i][imaged(s->d, i, c)] = cell;
    }
}

/* --- which layouts stand, and stand for their mirror images ------------------------------------------------------- */

/* Lay an option in the next cell; whether it can stand there so far. What it counted is taken back by `lift`. */
static bool lay(search *s, int32_t cell, uint8_t option) {
    s->option[cell] = option;
    const tw_part *p = laid(s, cell);
    if (s->leaned[cell] && (!p || !p->carries))
        return false;
    if (!p)
        return true;
    if (p->support) {
        int32_t on = p->support == 1 ? s->beside[cell][TW_DOWN] : s->beside[cell][p->facing];
        if (on < 0 || (on < cell && (!laid(s, on) || !laid(s, on)->carries)))
            return false;
        if (on > cell)
            s->leaned[on]++;
    }
    s->triggers += is_trigger(p);
    s->parts++;
    return true;
}

static void lift(search *s, int32_t cell) {
    const tw_part *p = laid(s, cell);
    s->triggers -= is_trigger(p);
    s->parts--;
    if (p->support == 2 && s->beside[cell][p->facing] > cell)
        s->leaned[s->beside[cell][p->facing]]--;
}

static bool is_canonical(const search *s) {
    int64_t options = s->d->palette_n + 1;
    for (int32_t i = 1; i < s->d->symmetries_n; i++) {
        const uint8_t *images = s->d->images + i * options;
        for (int32_t cell = 0; cell < s->n; cell++) {
            uint8_t other = images[s->option[s->image[i][cell]]];
            if (other > s->option[cell])
                return false;
            if (other < s->option[cell])
                break;
        }
    }
    return true;
}

/* --- in which every part matters ---------------------------------------------------------------------------------- */

static uint32_t bit(int32_t cell) {
    return cell >= 0 ? 1u << cell : 0;
}

/* The cells that may be otherwise because of what is in this one; rather too many than too few. */
static uint32_t touched(const search *s, int32_t cell, uint32_t wires, uint32_t listeners, uint32_t conductors) {
    const tw_part *p = laid(s, cell);
    const int32_t *beside = s->beside[cell];
    uint32_t around = 0;
    for (int dir = 0; dir < 6; dir++)
        around |= bit(beside[dir]);
    uint32_t found = s->near[cell] & wires;
    switch (p->role) {
    case TW_PLAIN:
    case TW_LAMP:
        return p->conducts ? found | (around & listeners) : found;
    case TW_WIRE:
        return found | (around & (listeners | conductors) & ~bit(beside[TW_UP]));
    case TW_REPEATER:
    case TW_COMPARATOR:
    case TW_SENSOR:
        return found | (bit(beside[p->facing]) & (listeners | conductors));
    case TW_TORCH:
        return found | (around & listeners & ~bit(beside[p->facing])) | (bit(beside[TW_UP]) & conductors);
    default:
        return found | (around & (listeners | conductors));
    }
}

/* Cells, one of which must show the behaviour if any does in which no part can be left out; 0 if there is none. A part
   on which nothing stands, and which cannot matter to a cell, can be left out without that cell being otherwise. */
static uint32_t worth_watching(const search *s) {
    uint32_t wires = 0, listeners = 0, conductors = 0, all = 0, supports = 0, triggers = 0;
    for (int32_t cell = 0; cell < s->n; cell++) {
        const tw_part *p = laid(s, cell);
        if (!p)
            continue;
        all |= bit(cell);
        wires |= p->role == TW_WIRE ? bit(cell) : 0;
        conductors |= p->conducts ? bit(cell) : 0;
        listeners |=
            p->role != TW_PLAIN && p->role != TW_SOURCE && !is_trigger(p) && p->role != TW_PLATE ? bit(cell) : 0;
        triggers |= is_trigger(p) ? bit(cell) : 0;
        if (p->support)
            supports |= bit(s->beside[cell][p->support == 1 ? TW_DOWN : p->facing]);
    }
    uint32_t reach[TW_MOST_CELLS];
    for (int32_t cell = 0; cell < s->n; cell++)
        reach[cell] = laid(s, cell) ? bit(cell) | touched(s, cell, wires, listeners, conductors) : 0;
    for (int32_t cell = 0; cell < s->n; cell++) { /* what is seen by a sensor, and what gives a repeater its priority */
        const tw_part *p = laid(s, cell);
        if (!p || p->facing > 5)
            continue;
        int32_t behind = s->beside[cell][p->facing ^ 1], ahead = s->beside[cell][p->facing];
        if (p->role == TW_SENSOR && behind >= 0 && reach[behind])
            reach[behind] |= bit(cell);
        if ((p->role == TW_REPEATER || p->role == TW_COMPARATOR) && ahead >= 0 && laid(s, ahead) &&
            (laid(s, ahead)->role == TW_REPEATER || laid(s, ahead)->role == TW_COMPARATOR))
            reach[ahead] |= bit(cell);
    }
    int32_t ends = 0; /* two that matter to no other cell are one too many */
    for (int32_t cell = 0; cell < s->n; cell++)
        ends += reach[cell] == bit(cell) && !(supports & bit(cell));
    for (int32_t by = 0; by < s->n && ends < 2; by++)
        for (int32_t cell = 0; cell < s->n; cell++)
            if (reach[cell] & bit(by))
                reach[cell] |= reach[by];
    uint32_t found = ends < 2 ? all & ~triggers : 0;
    for (int32_t cell = 0; found && cell < s->n; cell++)
        if (reach[cell] && !(supports & bit(cell)))
            found &= reach[cell];
    return found;
}

/* --- running ------------------------------------------------------------------------------------------------------ */

static uint64_t mixed(uint64_t hash, uint64_t with) {
    hash = (hash ^ with) * UINT64_C(0x9E3779B97F4A7C15);
    return hash ^ hash >> 29;
}

static uint64_t pattern_hash(const lane *l) {
    uint64_t hash = mixed(UINT64_C(0x51ED270B27B4F3CF), (uint64_t)l->flags << 8 | (uint64_t)l->n);
    for (int32_t i = 0; i < l->n; i++)
        hash = mixed(hash, (uint64_t)l->edges[i]);
    return hash ? hash : 1;
}

static bool is_of(const search *s, const pattern *p, const lane *l) {
    return p->n == l->n && p->flags == l->flags &&
           !memcmp(s->edges + p->first, l->edges, (size_t)l->n * sizeof *l->edges);
}

/* Where the pattern of that lane is in the table, or would be. */
static pattern *find(const search *s, uint64_t hash, const lane *l) {
    uint32_t mask = s->table_room - 1, at = (uint32_t)hash & mask;
    while (s->table[at].hash && !(s->table[at].hash == hash && is_of(s, &s->table[at], l)))
        at = (at + 1) & mask;
    return &s->table[at];
}

static bool widen_table(search *s) {
    uint32_t room = s->table_room ? 2 * s->table_room : TW_FIRST_ROOM;
    pattern *table = calloc(room, sizeof *table);
    if (!table)
        return false;
    for (uint32_t i = 0; i < s->table_room; i++) {
        uint32_t at = (uint32_t)s->table[i].hash & (room - 1);
        while (s->table[i].hash && table[at].hash)
            at = (at + 1) & (room - 1);
        if (s->table[i].hash)
            table[at] = s->table[i];
    }
    free(s->table);
    s->table = table;
    s->table_room = room;
    return true;
}

/* Room for one more pattern. */
static bool make_room(search *s) {
    if (s->edges_room - s->edges_n < TW_MOST_EDGES) {
        uint64_t room = 2 * s->edges_room + TW_FIRST_ROOM;
        int64_t *edges = realloc(s->edges, (size_t)room * sizeof *edges);
        if (!edges)
            return false;
        s->edges = edges;
        s->edges_room = room;
    }
    return 2 * s->table_n < s->table_room || widen_table(s);
}

/* What the judge says of a pattern, asked once. */
static int32_t verdict_of(search *s, const lane *l) {
    if (!make_room(s)) {
        s->status = TW_NO_MEMORY;
        return 0;
    }
    uint64_t hash = pattern_hash(l);
    pattern *found = find(s, hash, l);
    if (!found->hash) {
        int32_t verdict = s->judge(l->edges, l->n, l->flags);
        if (verdict < 0 || verdict >= TW_MOST_VERDICTS)
            s->status = TW_STOPPED;
        *found = (pattern){hash, s->edges_n, l->n, l->flags, verdict};
        memcpy(s->edges + s->edges_n, l->edges, (size_t)l->n * sizeof *l->edges);
        s->edges_n += (uint64_t)l->n;
        s->table_n++;
    }
    return found->verdict;
}

static int32_t lay_cells(const search *s, int32_t *cells, int32_t *trigger) {
    int32_t n = 0;
    for (int32_t cell = 0; cell < s->n; cell++) {
        if (!laid(s, cell))
            continue;
        tw_cell c = place_of(s->d, cell);
        int32_t row[4] = {c.x, c.y, c.z, s->option[cell] - 1};
        memcpy(cells + 4 * n++, row, sizeof row);
        if (is_trigger(laid(s, cell)))
            *trigger = cell;
    }
    return n;
}

static int32_t put_script(search *s, int32_t trigger) {
    int32_t sort = laid(s, trigger)->role == TW_LEVER;
    tw_cell c = place_of(s->d, trigger);
    for (int64_t i = 0; i < s->d->acts_n[sort]; i++) {
        tw_act act = s->d->acts[sort][i];
        act.step += s->d->start;
        act.x = c.x, act.y = c.y, act.z = c.z;
        int32_t status = tw_script(s->w, &act, 1);
        if (status)
            return status;
    }
    return TW_DONE;
}

static void take_changes(const search *s, lane *lanes, int64_t start) {
    tw_world *w = s->w;
    for (uint32_t i = 0; i < w->changes_n; i++) {
        lane *l = &lanes[w->changes[i].probe];
        bool on = w->changes[i].value > 0;
        if (on == l->on)
            continue;
        l->on = on;
        if (w->changes[i].step < start)
            continue;
        if (l->n == TW_MOST_EDGES)
            l->flags |= TW_LANE_CUT;
        else
            l->edges[l->n++] = w->changes[i].step - start;
    }
    w->changes_n = 0;
}

/* Lay it: all that is handed over was checked already, once for all layouts. */
static int32_t build_it(search *s, const int32_t *cells, int32_t cells_n, const int32_t *probes, int32_t probes_n) {
    const tw_layouts_data *d = s->d;
    TW_TRY(s->w);
    return tw_build_checked(s->w, d->rules, d->palette, d->palette_n, cells, cells_n, probes, probes_n, 0, NULL);
}

/* Run it; its lanes, and whether it rests before the first act. */
static bool run_it(search *s, const int32_t *probes, int32_t probes_n, lane *lanes) {
    int32_t cells[4 * TW_MOST_CELLS], trigger = 0;
    int32_t cells_n = lay_cells(s, cells, &trigger);
    const tw_layouts_data *d = s->d;
    tw_world *w = s->w;
    s->status = build_it(s, cells, cells_n, probes, probes_n);
    w->keep = TW_KEEP_CHANGES;
    if (s->status < 0)
        return false;
    s->status = tw_advance(w, d->start, d->budget);
    if (s->status || tw_next_step(w) >= 0) {
        s->status = s->status < 0 ? s->status : TW_DONE;
        return false;
    }
    take_changes(s, lanes, d->start);
    for (int32_t i = 0; i < probes_n; i++)
        lanes[i].flags = lanes[i].on ? TW_LANE_RESTS_ON : 0;
    s->status = put_script(s, trigger);
    if (s->status < 0)
        return false;
    s->status = tw_advance(w, d->start + d->steps, d->budget);
    if (s->status < 0)
        return false;
    take_changes(s, lanes, d->start);
    bool rests = s->status == TW_DONE && tw_next_step(w) < 0;
    s->status = TW_DONE;
    for (int32_t i = 0; i < probes_n && !rests; i++)
        lanes[i].flags |= TW_LANE_GOES_ON;
    return true;
}

static void try_out(search *s, uint32_t watched) {
    int32_t probes[4 * TW_MOST_CELLS], at[TW_MOST_CELLS], n = 0;
    lane lanes[TW_MOST_CELLS];
    for (int32_t cell = 0; cell < s->n; cell++) {
        if (!(watched & bit(cell)))
            continue;
        tw_cell c = place_of(s->d, cell);
        int32_t row[4] = {c.x, c.y, c.z, 0};
        memcpy(probes + 4 * n, row, sizeof row);
        lanes[n].n = lanes[n].flags = 0;
        lanes[n].on = false;
        at[n++] = cell;
    }
    s->counts[TW_COUNT_RUN]++;
    if (!run_it(s, probes, n, lanes)) {
        s->counts[TW_COUNT_RESTLESS]++;
        return;
    }
    for (int32_t i = 0; !s->status && i < n; i++) {
        if (!lanes[i].n)
            continue;
        int32_t verdict = verdict_of(s, &lanes[i]);
        if (s->status || verdict <= 0 || s->parts > s->most[verdict])
            continue;
        s->most[verdict] = s->take(verdict, s->option, at[i], s->parts);
        if (s->most[verdict] < 0)
            s->status = TW_STOPPED;
    }
}

static void finish(search *s) {
    if (s->triggers != 1)
        return;
    s->counts[TW_COUNT_VALID]++;
    if (!is_canonical(s))
        return;
    s->counts[TW_COUNT_CANONICAL]++;
    uint32_t watched = worth_watching(s);
    if (!watched)
        return;
    s->counts[TW_COUNT_LIVE]++;
    try_out(s, watched);
}

static void fill_from(search *s, int32_t cell);

static void fill_with(search *s, int32_t cell, uint8_t option) {
    if (!lay(s, cell, option))
        return;
    if (s->triggers <= 1)
        fill_from(s, cell + 1);
    if (option)
        lift(s, cell);
}

static void fill_from(search *s, int32_t cell) {
    if (cell == s->n) {
        finish(s);
        return;
    }
    int32_t below = s->beside[cell][TW_DOWN];
    if (cell < s->fixed)
        fill_with(s, cell, s->prefix[cell]);
    else if (below >= 0 && laid(s, below) && laid(s, below)->carries)
        for (int32_t option = 0; option <= s->d->palette_n && !s->status; option++)
            fill_with(s, cell, (uint8_t)option);
    else
        for (int32_t i = 0; i < s->aloft_n && !s->status; i++)
            fill_with(s, cell, s->aloft[i]);
    s->option[cell] = 0;
}

static bool good_search(const tw_layouts_data *d, const uint8_t *prefix, int32_t prefix_n) {
    if (!d->rules || !d->palette || d->palette_n < 1 || d->palette_n > 250 || !d->images || d->nx < 1 || d->ny < 1 ||
        d->nz < 1 || d->nx > TW_MOST_CELLS || d->ny > TW_MOST_CELLS || d->nz > TW_MOST_CELLS ||
        d->nx * d->ny > TW_MOST_CELLS || d->nx * d->ny * d->nz > TW_MOST_CELLS || d->start < 1 || d->steps < 1 ||
        d->start > TW_NEVER / 8 || d->steps > TW_NEVER / 8 || d->budget < 1 || d->budget > TW_NEVER / 8 ||
        prefix_n < 0 || prefix_n > d->nx * d->ny * d->nz || (prefix_n && !prefix) || !tw_good_rules(d->rules) ||
        (d->symmetries_n != 4 && !(d->symmetries_n == 8 && d->nx == d->ny)))
        return false;
    for (int sort = 0; sort < 2; sort++) {
        if (d->acts_n[sort] < 0 || d->acts_n[sort] > TW_MOST_EDGES || (d->acts_n[sort] && !d->acts[sort]))
            return false;
        for (int64_t i = 0; i < d->acts_n[sort]; i++)
            if (d->acts[sort][i].step < 0 || d->acts[sort][i].step > TW_NEVER / 8)
                return false;
    }
    for (int64_t i = 0; i < d->palette_n; i++)
        if (!tw_good_part(&d->palette[i]) || d->palette[i].role > TW_SENSOR)
            return false;
    for (int64_t i = 0; i < d->symmetries_n * (d->palette_n + 1); i++)
        if (d->images[i] > d->palette_n)
            return false;
    for (int32_t i = 0; i < prefix_n; i++)
        if (prefix[i] > d->palette_n)
            return false;
    return true;
}

int32_t tw_layouts(tw_world *w, const tw_layouts_data *d, const uint8_t *prefix, int32_t prefix_n, int64_t *counts,
                   const int32_t *most, tw_judge judge, tw_take take) {
    if (!w || !d || !counts || !most || !judge || !take || !good_search(d, prefix, prefix_n))
        return TW_BAD_SIZE;
    search *s = calloc(1, sizeof *s);
    if (!s)
        return TW_NO_MEMORY;
    s->w = w, s->d = d, s->judge = judge, s->take = take, s->counts = counts;
    s->fixed = prefix_n, s->prefix = prefix;
    memcpy(s->most, most, sizeof s->most);
    make_box(s);
    fill_from(s, 0);
    int32_t status = s->status;
    free(s->table);
    free(s->edges);
    free(s);
    return status;
}
