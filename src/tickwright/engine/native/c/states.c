/* All states that a circuit can reach, whatever a hand does to its switches at the ends of steps.

   The row of a state: the levels of all actors, eight to a word; how many events are outstanding; of each event, in the
   order in which they will come due, its slot (top bit: of a torch burnt out) and its distance and rank; of each
   torch how many switch-offs still count, and how many steps ago they were. Equal rows go on equally. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

enum { TW_LATER = 1 << 24 }; /* the step at which every state is looked at: only distances matter */
enum { TW_MOST_ACTS = 16, TW_MOST_LISTS = 4096 };
#define DEAF_BIT 0x80000000u

/* An entry of a table by hash, of a power of two entries: the number of what is there, -1 if nothing is. */
typedef struct {
    uint32_t hash;
    int32_t number;
} tw_spot;

/* A table of `old` entries has come to have room for `n`, twice as many (or its first): put each where it belongs. */
static void tw_spread(tw_spot *table, uint32_t old, uint32_t n) {
    for (uint32_t i = old; i < n; i++)
        table[i].number = -1;
    uint32_t first = 0; /* what begins behind the end of the old table is moved once its place is known to be free */
    while (first < old && table[first].number >= 0)
        first++;
    for (uint32_t k = 0; k < old; k++) {
        uint32_t i = (first + k) & (old - 1u);
        tw_spot spot = table[i];
        if (spot.number < 0)
            continue;
        table[i].number = -1;
        uint32_t at = spot.hash & (n - 1u);
        while (table[at].number >= 0)
            at = (at + 1u) & (n - 1u);
        table[at] = spot;
    }
}

#define TW_GRAPH_ARRAYS(X)                                                                                             \
    X(int32_t, actors)  /* slots whose level is part of a state */                                                     \
    X(int32_t, wires)   /* slots of wires whose level is kept */                                                       \
    X(int32_t, torches) /* slots of torches */                                                                         \
    X(tw_act, acts)     /* what the hand can do */                                                                     \
    X(int32_t, ways)    /* ways[start[list] ...]: acts of a list, in order */                                          \
    X(uint32_t, start)  /* start[list], one more at the end */                                                         \
    X(uint32_t, words)  /* words[where[state] .. where[state + 1]): the row of a state */                              \
    X(uint64_t, where)                                                                                                 \
    X(int32_t, after)  /* after[state * moves + move]: the state that follows, -1 if none or not explored */           \
    X(int32_t, shown)  /* shown[state * probes + probe] */                                                             \
    X(tw_spot, table)  /* by hash */                                                                                   \
    X(uint32_t, row)   /* the row being made */                                                                        \
    X(tw_late, due)    /* its events */                                                                                \
    X(int32_t, future) /* future[state * (1 + 2 * probes) ...]: see tw_graph_futures */

struct tw_graph {
    TW_GRAPH_ARRAYS(TW_DECLARE)
    tw_world *w;
    tw_probe *probes; /* probes[probe] */
    uint32_t probes_n, moves, states;
    int64_t apart; /* if not 0: switch-offs of a torch so many steps apart burn nothing out, older ones are forgotten */
    bool crowded;  /* some were less apart */
};

#define TW_KEEP(g, name, need)                                                                                         \
    do {                                                                                                               \
        if ((uint64_t)(need) > (g)->name##_room)                                                                       \
            (g)->name = tw_grow((g)->w, (g)->name, &(g)->name##_room, (uint64_t)(need), sizeof *(g)->name);            \
    } while (0)
#define TW_APPEND(g, name, ...)                                                                                        \
    do {                                                                                                               \
        TW_KEEP(g, name, (g)->name##_n + 1u);                                                                          \
        (g)->name[(g)->name##_n++] = (__VA_ARGS__);                                                                    \
    } while (0)

/* Room in the table by hash for one more than `known`, half of it staying free. */
#define TW_TABLE_ROOM(g, known)                                                                                        \
    do {                                                                                                               \
        uint32_t old_n = (g)->table_n, new_n = old_n ? 2u * old_n : 1024u;                                             \
        if (2u * ((known) + 1u) <= old_n)                                                                              \
            break;                                                                                                     \
        TW_KEEP(g, table, new_n);                                                                                      \
        (g)->table_n = new_n;                                                                                          \
        tw_spread((g)->table, old_n, new_n);                                                                           \
    } while (0)

void tw_graph_free(tw_graph *g) {
    if (!g)
        return;
#define TW_FREE_ARRAY(type, name) free(g->name);
    TW_GRAPH_ARRAYS(TW_FREE_ARRAY)
    free(g->probes);
    tw_free(g->w);
    free(g);
}

static bool is_static(const tw_world *w) {
    for (uint32_t s = 0; s < w->links_n; s++) {
        int role = w->links[s].role;
        if (role == TW_PISTON || role == TW_HOPPER || role == TW_EJECTOR || role == TW_PLATE)
            return false;
    }
    return !w->stacks_n && w->act_next == w->acts_n;
}

static void list_slots(tw_graph *g) {
    tw_world *w = g->w;
    for (uint32_t s = 0; s < w->links_n; s++) {
        if (!tw_real(w, (int32_t)s))
            continue;
        switch (w->links[s].role) {
        case TW_TORCH:
            TW_APPEND(g, torches, (int32_t)s);
            TW_APPEND(g, actors, (int32_t)s);
            break;
        case TW_LAMP:
        case TW_REPEATER:
        case TW_COMPARATOR:
        case TW_LEVER:
        case TW_BUTTON:
        case TW_SENSOR:
            TW_APPEND(g, actors, (int32_t)s);
            break;
        case TW_WIRE:
            if (w->live[s].flags & TW_EAGER)
                TW_APPEND(g, wires, (int32_t)s);
            break;
        default: /* the others keep their level, or there are none */
            break;
        }
    }
}

/* --- a world to its row, and back --------------------------------------------------------------------------------- */

static bool is_later(const tw_late *a, const tw_late *b) {
    if (a->step != b->step)
        return a->step > b->step;
    return (a->what & 7u) != (b->what & 7u) ? (a->what & 7u) > (b->what & 7u) : a->order > b->order;
}

/* The events outstanding, in the order in which they will act. */
static void list_due(tw_graph *g, const tw_world *w) {
    g->due_n = 0;
    for (int64_t step = tw_next_in_wheel(w, w->now); step != TW_NEVER; step = tw_next_in_wheel(w, step)) {
        const tw_bucket *b = &w->wheel[step % TW_WHEEL];
        for (uint32_t ranks = b->ranks; ranks; ranks &= ranks - 1u)
            for (uint32_t k = 0; k < b->n; k++)
                if ((b->e[k].what & 7u) == (uint32_t)__builtin_ctz(ranks))
                    TW_APPEND(g, due, (tw_late){step, 0, b->e[k].what});
    }
    for (uint32_t i = 0, first = g->due_n; i < w->late_n; i++) {
        tw_late one = w->late[i];
        TW_APPEND(g, due, one);
        uint32_t j = g->due_n - 1u;
        for (; j > first && is_later(&g->due[j - 1u], &one); j--)
            g->due[j] = g->due[j - 1u];
        g->due[j] = one;
    }
}

static void save_torches(tw_graph *g, const tw_world *w) {
    int64_t window = g->apart ? g->apart : w->rules.burnout_window;
    for (uint32_t i = 0; i < g->torches_n; i++) {
        const tw_torch *t = &w->torches[w->place[g->torches[i]].aux];
        uint32_t at = g->row_n, kept = 0;
        TW_APPEND(g, row, 0);
        for (uint32_t k = 0; k < t->n; k++) {
            int64_t ago = w->now - w->offs[t->at + (t->head + k) % t->room];
            if (ago >= window || t->n - k >= (uint32_t)w->rules.burnout_count)
                continue; /* it can never be the first of so many again */
            TW_APPEND(g, row, (uint32_t)ago);
            kept++;
        }
        g->row[at] = kept;
        g->crowded |= g->apart && kept > 1;
    }
}

static void save(tw_graph *g, const tw_world *w) {
    g->row_n = 0;
    for (uint32_t i = 0; i < g->actors_n; i++) {
        if (i % 8u == 0)
            TW_APPEND(g, row, 0);
        g->row[i / 8u] |= (uint32_t)w->live[g->actors[i]].level << 4u * (i % 8u);
    }
    list_due(g, w);
    TW_APPEND(g, row, g->due_n);
    for (uint32_t i = 0; i < g->due_n; i++) {
        uint32_t slot = g->due[i].what >> 3, rank = g->due[i].what & 7u;
        TW_APPEND(g, row, w->live[slot].flags & TW_DEAF ? slot | DEAF_BIT : slot);
        TW_APPEND(g, row, (uint32_t)(g->due[i].step - w->now) << 3 | rank);
    }
    save_torches(g, w);
}

static void load(tw_graph *g, uint32_t state) {
    tw_world *w = g->w;
    const uint32_t *row = g->words + g->where[state];
    w->now = TW_LATER;
    for (uint32_t i = 0; i < g->actors_n; i++) {
        tw_live *live = &w->live[g->actors[i]];
        live->level = row[i / 8u] >> 4u * (i % 8u) & 15u;
        live->flags &= (uint8_t) ~(TW_WAITING | TW_DEAF);
    }
    tw_empty_wheel(w);
    w->late_n = 0, w->scheduled = 0, w->offs_n = 0, w->notes_n = 0;
    uint32_t at = (g->actors_n + 7u) / 8u, n = row[at++];
    for (uint32_t i = 0; i < n; i++, at += 2) {
        uint32_t slot = row[at] & ~DEAF_BIT;
        w->live[slot].flags |= row[at] & DEAF_BIT ? TW_WAITING | TW_DEAF : TW_WAITING;
        tw_put_event(w, w->now + (row[at + 1] >> 3), slot << 3 | (row[at + 1] & 7u), w->scheduled++);
    }
    for (uint32_t i = 0; i < g->torches_n; i++) {
        uint32_t kept = row[at++];
        TW_ROOM(w, offs, (uint64_t)w->offs_n + kept);
        w->torches[w->place[g->torches[i]].aux] = (tw_torch){w->offs_n, kept, kept, 0};
        for (uint32_t k = 0; k < kept; k++)
            w->offs[w->offs_n++] = w->now - row[at++];
    }
    for (uint32_t i = 0; i < g->wires_n; i++)
        w->live[g->wires[i]].level = (uint8_t)tw_main(w, g->wires[i]);
}

/* --- the states that are known ------------------------------------------------------------------------------------ */

static uint64_t hash_of(const uint32_t *row, uint64_t n) {
    uint64_t h = n;
    for (uint64_t i = 0; i < n; i++) {
        h = (h ^ row[i]) * 0x9E3779B97F4A7C15u;
        h ^= h >> 29;
    }
    return h;
}

/* Where a row is in the table, or would be. */
static uint32_t table_place(const tw_graph *g, const uint32_t *row, uint64_t n, uint32_t hash) {
    uint32_t mask = g->table_n - 1u, i = hash & mask;
    for (; g->table[i].number >= 0; i = (i + 1u) & mask) {
        if (g->table[i].hash != hash)
            continue;
        const uint64_t *where = &g->where[g->table[i].number];
        if (where[1] - where[0] == n && !memcmp(g->words + where[0], row, n * sizeof *row))
            break;
    }
    return i;
}

/* The state that the world is in, known from now on. */
static int32_t state_of(tw_graph *g, tw_world *w) {
    save(g, w);
    TW_TABLE_ROOM(g, g->states);
    uint32_t hash = (uint32_t)hash_of(g->row, g->row_n);
    uint32_t place = table_place(g, g->row, g->row_n, hash);
    if (g->table[place].number >= 0)
        return g->table[place].number;
    uint64_t end = g->where[g->states];
    TW_KEEP(g, words, end + g->row_n);
    TW_KEEP(g, where, g->states + 2u);
    TW_KEEP(g, after, (uint64_t)(g->states + 1u) * g->moves);
    TW_KEEP(g, shown, (uint64_t)(g->states + 1u) * g->probes_n + 1u);
    memcpy(g->words + end, g->row, g->row_n * sizeof *g->row);
    g->where[g->states + 1u] = end + g->row_n;
    for (uint32_t m = 0; m < g->moves; m++)
        g->after[g->states * g->moves + m] = -1;
    for (uint32_t p = 0; p < g->probes_n; p++)
        g->shown[g->states * g->probes_n + p] = tw_value(w, &g->probes[p]);
    g->table[place] = (tw_spot){hash, (int32_t)g->states};
    return (int32_t)g->states++;
}

/* Whether an act would change something now. */
static bool is_open(const tw_graph *g, const tw_act *act) {
    int32_t s = tw_at(g->w, act->x, act->y, act->z);
    return tw_real(g->w, s) && !(g->w->links[s].role == TW_BUTTON && g->w->live[s].level);
}

/* Do the acts of a list, one after the other; false if one of them would change nothing. */
static bool press_list(tw_graph *g, uint32_t list) {
    for (uint32_t i = g->start[list]; i < g->start[list + 1u]; i++) {
        if (!is_open(g, &g->acts[g->ways[i]]))
            return false;
        tw_perform(g->w, &g->acts[g->ways[i]]);
    }
    return true;
}

/* Find what follows a state, hands off and by each list. Leaves by g->w->trouble. */
static void explore(tw_graph *g, uint32_t state) {
    load(g, state);
    tw_one_step(g->w, TW_LATER + 1);
    int32_t first = state_of(g, g->w);
    g->after[state * g->moves] = first;
    bool touched = false; /* the world is not in that state any more */
    for (uint32_t list = 0; list + 1u < g->moves; list++) {
        if (touched)
            load(g, (uint32_t)first);
        touched = is_open(g, &g->acts[g->ways[g->start[list]]]);
        if (touched && press_list(g, list)) {
            int32_t next = state_of(g, g->w);
            g->after[state * g->moves + 1u + list] = next;
        }
    }
}

/* --- the interface ------------------------------------------------------------------------------------------------ */

static int32_t fill_graph(tw_graph *g, const tw_world *from, int64_t step, const tw_act *acts, int64_t acts_n,
                          const int32_t *ways, const int32_t *lengths, int64_t lists_n) {
    int32_t copied = tw_copy(g->w, from);
    g->probes = calloc(from->probes_n + 1u, sizeof *g->probes);
    if (copied || !g->probes)
        return TW_NO_MEMORY;
    memcpy(g->probes, from->probes, from->probes_n * sizeof *g->probes);
    g->probes_n = from->probes_n;
    TW_TRY(g->w);
    g->w->probes_n = 0;
    g->w->now = step;
    tw_reach(g->w);
    g->moves = (uint32_t)lists_n + 1u;
    list_slots(g);
    for (int64_t i = 0; i < acts_n; i++)
        TW_APPEND(g, acts, acts[i]);
    TW_APPEND(g, start, 0);
    for (int64_t list = 0, at = 0; list < lists_n; at += lengths[list], list++) {
        for (int32_t i = 0; i < lengths[list]; i++)
            TW_APPEND(g, ways, ways[at + i]);
        TW_APPEND(g, start, g->ways_n);
    }
    TW_APPEND(g, where, 0);
    state_of(g, g->w);
    return TW_DONE;
}

/* Whether the world is as it is at the end of that step, -1 being the moment before the first. */
static bool at_end_of(const tw_world *w, int64_t step) {
    if (w->now < 0)
        return step == -1;
    int64_t next = tw_next_step(w);
    return step >= w->now && step < TW_NEVER / 4 && (next < 0 || next > step);
}

tw_graph *tw_graph_new(const tw_world *from, int64_t step, const tw_act *acts, int64_t acts_n, const int32_t *ways,
                       int64_t ways_n, const int32_t *lengths, int64_t lists_n, int32_t *status) {
    int64_t total = 0;
    if (!status)
        return NULL;
    *status = TW_BAD_SIZE;
    if (!from || !from->built || !at_end_of(from, step) || acts_n < 0 || acts_n > TW_MOST_ACTS || lists_n < 0 ||
        lists_n > TW_MOST_LISTS || (acts_n && !acts) || (lists_n && (!ways || !lengths)))
        return NULL;
    for (int64_t i = 0; i < lists_n; i++) {
        if (lengths[i] < 1 || lengths[i] > TW_MOST_ACTS)
            return NULL;
        total += lengths[i];
    }
    if (total != ways_n)
        return NULL;
    for (int64_t i = 0; i < ways_n; i++)
        if (ways[i] < 0 || ways[i] >= acts_n)
            return NULL;
    for (int64_t i = 0; i < acts_n; i++)
        if (!tw_good_act(from, &acts[i]) || acts[i].verb > TW_OFF)
            return NULL;
    *status = TW_NOT_STATIC;
    if (!is_static(from))
        return NULL;
    *status = TW_NO_MEMORY;
    tw_graph *g = calloc(1, sizeof *g);
    if (!g)
        return NULL;
    g->w = tw_new();
    if (g->w)
        *status = fill_graph(g, from, step, acts, acts_n, ways, lengths, lists_n);
    if (*status == TW_DONE)
        return g;
    tw_graph_free(g);
    return NULL;
}

int32_t tw_graph_forget(tw_graph *g) {
    if (!g || g->states != 1 || g->after[0] >= 0 || g->w->rules.burnout_count < 2)
        return TW_BAD_SIZE;
    TW_TRY(g->w);
    g->apart = g->w->rules.burnout_window / (g->w->rules.burnout_count - 1) + 1;
    load(g, 0);
    for (uint32_t i = 0; i < g->table_n; i++)
        g->table[i].number = -1;
    g->states = 0;
    state_of(g, g->w);
    return TW_DONE;
}

int32_t tw_graph_crowded(const tw_graph *g) {
    return g ? g->crowded : TW_BAD_SIZE;
}

int64_t tw_graph_states(const tw_graph *g) {
    return g ? (int64_t)g->states : TW_BAD_SIZE;
}

int32_t tw_graph_explore(tw_graph *g, int64_t first, int64_t end) {
    if (!g || first < 0 || end < first || first > g->states)
        return TW_BAD_SIZE;
    TW_TRY(g->w);
    for (int64_t state = first; state < end && state < g->states; state++)
        if (g->after[state * g->moves] < 0)
            explore(g, (uint32_t)state);
    return TW_DONE;
}

int32_t tw_graph_read(const tw_graph *g, int64_t first, int64_t n, int32_t *after, int32_t *shown, uint8_t *rests) {
    if (!g || first < 0 || n < 0 || first > g->states || n > g->states - first || (n && (!after || !shown || !rests)))
        return TW_BAD_SIZE;
    if (!n)
        return TW_DONE;
    memcpy(after, g->after + first * g->moves, (size_t)n * g->moves * sizeof *after);
    memcpy(shown, g->shown + first * g->probes_n, (size_t)n * g->probes_n * sizeof *shown);
    for (int64_t i = 0; i < n; i++)
        rests[i] = g->words[g->where[first + i] + (g->actors_n + 7u) / 8u] == 0;
    return TW_DONE;
}

int64_t tw_graph_edges(const tw_graph *g) {
    int64_t edges = 0;
    for (uint32_t s = 0; g && s < g->states; s++)
        for (uint32_t m = 0; m < g->moves; m++) {
            int32_t to = g->after[s * g->moves + m];
            bool again = to < 0;
            for (uint32_t k = 0; k < m && !again; k++)
                again = g->after[s * g->moves + k] == to;
            edges += !again;
        }
    return g ? edges : TW_BAD_SIZE;
}

/* --- what follows hands off --------------------------------------------------------------------------------------- */

/* States on a circle: it rests only if it is a circle of one that rests; levels that come again are never off for good.
 */
static void circle(tw_graph *g, uint32_t first) {
    uint32_t size = 1u + 2u * g->probes_n, s = first;
    bool rests = g->after[first * g->moves] == (int32_t)first;
    for (uint32_t p = 0; p < g->probes_n; p++) {
        bool on = false, off = false;
        do {
            on |= g->shown[s * g->probes_n + p] > 0;
            off |= g->shown[s * g->probes_n + p] <= 0;
            s = (uint32_t)g->after[s * g->moves];
        } while (s != first);
        do {
            g->future[s * size] = rests ? 0 : -1;
            g->future[s * size + 1u + p] = on ? -1 : 0;
            g->future[s * size + 1u + g->probes_n + p] = on && off ? -1 : 0;
            s = (uint32_t)g->after[s * g->moves];
        } while (s != first);
    }
    if (g->probes_n)
        return;
    do {
        g->future[s * size] = rests ? 0 : -1;
        s = (uint32_t)g->after[s * g->moves];
    } while (s != first);
}

static void before(tw_graph *g, uint32_t s) {
    uint32_t n = g->probes_n, size = 1u + 2u * n, t = (uint32_t)g->after[s * g->moves];
    const int32_t *later = g->future + t * size;
    int32_t *now = g->future + s * size;
    now[0] = later[0] < 0 ? -1 : later[0] + 1;
    for (uint32_t p = 0; p < n; p++) {
        bool on = g->shown[s * n + p] > 0, next = g->shown[t * n + p] > 0;
        int32_t off = later[1u + p], pulses = later[1u + n + p];
        now[1u + p] = off < 0 ? -1 : off == 0 && !on ? 0 : off + 1;
        now[1u + n + p] = pulses < 0 ? -1 : pulses + (!on && next);
    }
}

/* Fill in the futures of all states on the way from this one: seen[s] is 1 on the way, 2 when it is known. */
static void follow_way(tw_graph *g, uint8_t *seen, uint32_t *way, uint32_t s) {
    uint32_t n = 0;
    for (; !seen[s]; s = (uint32_t)g->after[s * g->moves]) {
        seen[s] = 1;
        way[n++] = s;
    }
    if (seen[s] == 1) {
        circle(g, s);
        for (uint32_t done = g->states; done != s;) {
            done = way[--n];
            seen[done] = 2;
        }
    }
    while (n > 0) {
        before(g, way[--n]);
        seen[way[n]] = 2;
    }
}

int32_t tw_graph_futures(tw_graph *g, int32_t *into, int64_t into_n) {
    if (!g || !into || into_n != (int64_t)g->states * (1 + 2 * (int64_t)g->probes_n))
        return TW_BAD_SIZE;
    for (uint32_t s = 0; s < g->states; s++)
        if (g->after[s * g->moves] < 0)
            return TW_BAD_SIZE;
    TW_TRY(g->w);
    TW_KEEP(g, future, into_n);
    uint8_t *seen = calloc(g->states, 1);
    uint32_t *way = malloc(g->states * sizeof *way);
    for (uint32_t s = 0; seen && way && s < g->states; s++)
        if (!seen[s])
            follow_way(g, seen, way, s);
    bool done = seen && way;
    free(seen);
    free(way);
    if (!done)
        return TW_NO_MEMORY;
    memcpy(into, g->future, (size_t)into_n * sizeof *into);
    return TW_DONE;
}
