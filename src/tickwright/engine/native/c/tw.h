/* The native engine's interface: plain C, sizes always given, every number of the physics handed over.

   Cells are x, y, z (x east, y south, z up); steps are whole numbers from 0; levels are 0..15. Directions are numbered
   north 0, south 1, east 2, west 3, up 4, down 5, so that the opposite of d is d ^ 1. Functions that can fail give a
   status; a world whose function gave TW_NO_MEMORY can only be freed. */

#ifndef TW_H
#define TW_H

#include <stdint.h>

#if defined(_WIN32)
#define TW_API __declspec(dllexport)
#else
#define TW_API __attribute__((visibility("default")))
#endif

#define TW_VERSION 8
#define TW_MOST_PARTS 10000000
#define TW_FARTHEST 1048575 /* cells from the origin, either way */

enum tw_status {
    TW_DONE = 0,
    TW_MORE = 1, /* work is left, or a buffer is full: read notes and changes, and call again */
    TW_NO_MEMORY = -1,
    TW_BAD_SIZE = -2,   /* a count, index or number out of its range */
    TW_BAD_PART = -3,   /* a part that no engine knows */
    TW_BAD_CELL = -4,   /* a cell outside the farthest, or given twice */
    TW_NOT_STATIC = -5, /* what is asked takes no circuit in which cells or items may move */
    TW_STOPPED = -6     /* what was called back asked for it */
};

enum tw_role {
    TW_PLAIN, /* block, insulator */
    TW_LAMP,
    TW_SOURCE, /* power-block */
    TW_WIRE,
    TW_REPEATER,
    TW_COMPARATOR,
    TW_TORCH,
    TW_LEVER,
    TW_BUTTON,
    TW_PLATE,
    TW_SENSOR,
    TW_PISTON,
    TW_HOPPER,
    TW_EJECTOR,
    TW_CRATE,
    TW_ROLES
};

/* One part of the palette. */
typedef struct {
    int32_t role;     /* enum tw_role */
    int32_t kind;     /* any number, given back in notes */
    int32_t facing;   /* 0..5, or 6 if it has none */
    int32_t support;  /* where the cell it stands on is: 0 it needs none, 1 below, 2 where it faces */
    int32_t conducts; /* 0 or 1, as carries and movable */
    int32_t carries;
    int32_t movable;
    int32_t steps;  /* from its schedule to its event; a button's press; how often a plate looks; else 0 */
    int32_t mode;   /* comparator: 1 difference; lever: 1 thrown; piston: 1 pulls; plate: 1 counts; plain: 1 shows */
    int32_t counts; /* plate: things to a level */
    int32_t feels;  /* plate: 1 items, 2 creatures, 3 both */
    int32_t items;  /* container: at the start */
    int32_t capacity;
    int32_t act;  /* the act (enum tw_verb) that is usual on it, or -1 */
    int32_t acts; /* bit v: it takes the act v */
} tw_part;

typedef struct {
    int32_t top, full, loss, through; /* wire: highest level, what sources give, loss a cell, 1: points only through */
    int32_t repeater_ahead, repeater_off, repeater_on; /* priorities */
    int32_t comparator_ahead, comparator_else;         /* the last two priorities */
    int32_t burnout_count, burnout_window, burnout_rest;
    int32_t sensor_pulse;
    int32_t hopper_cooldown, hopper_first_wait;
    int32_t item_rest, item_vanish;
    int32_t push_limit, travel, hears_within, hears_above;
    int32_t fill_span; /* fill level = 1 + fill_span * items / capacity */
} tw_rules;

enum tw_verb {
    TW_PRESS,
    TW_FLIP,
    TW_ON,
    TW_OFF,
    TW_DROP,
    TW_TAKE,
    TW_TREAD,
    TW_LEAVE,
    TW_PUT,
    TW_PLACE,
    TW_CLEAR,
    TW_USUAL,
    TW_VERBS
};

typedef struct {
    int64_t step;
    int32_t x, y, z;
    int32_t verb;    /* enum tw_verb */
    int32_t number;  /* of items */
    int32_t code;    /* of the part to place */
    int32_t instead; /* TW_USUAL: the act if nothing is there; TW_USUAL again if none is known */
    int32_t length;  /* of a press in steps, 0 for the button's own */
} tw_act;

enum tw_note_code {
    TW_REFUSED_EMPTY,    /* the cell is empty now */
    TW_REFUSED_CLEAR,    /* nothing to clear */
    TW_REFUSED_ARM,      /* an arm is there */
    TW_REFUSED_OTHER,    /* kind: what is there now */
    TW_REFUSED_MOVING,   /* kind: what is on the move there */
    TW_REFUSED_SUPPORT,  /* kind: what was to be placed; cell 2: where it needs a part */
    TW_REFUSED_CREATURE, /* no creature is there */
    TW_REFUSED_LIES,     /* nothing lies there */
    TW_REFUSED_FULL,
    TW_REFUSED_NONE, /* the container is empty */
    TW_BROKE_LOST,   /* kind; cell 2: what it stood on */
    TW_BROKE_PUSHED, /* kind; cell 2: the piston, kind 2 */
    TW_BLOCKED_MANY, /* kind: the piston; cell 2: the first cell too many */
    TW_BLOCKED_ARM,
    TW_BLOCKED_MOVING, /* kind 2 at cell 2 is on the move */
    TW_BLOCKED_BUSY,   /* kind 2 at cell 2 is a piston at work */
    TW_BLOCKED_FAST,   /* kind 2 at cell 2 cannot be pushed */
    TW_CANNOT_PULL,    /* kind 2 at cell 2 */
    TW_LEFT_BEHIND,    /* kind: the piston; cell 2: one cell that it left; number: how many more notes belong to it */
    TW_ITEM_LOST,      /* number of items */
    TW_BURNT_OUT       /* kind */
};

typedef struct {
    int64_t step;
    int32_t code, verb;
    int32_t x, y, z, kind;
    int32_t x2, y2, z2, kind2;
    int32_t number, unused;
} tw_note;

typedef struct {
    int64_t step;
    int32_t probe, value;
} tw_change;

/* What is kept for tw_changes: changes of watched cells from step to step; or within a step, too, before and after each
   act of the script, and of each act a row of probe -1 and value 1 if it worked a trigger in its cell, 2 if it let one
   go, else 0. */
enum tw_keep { TW_KEEP_NONE, TW_KEEP_CHANGES, TW_KEEP_ACTS };

/* What one watched cell did, over the steps that were run. Steps are -1 where there is none. */
typedef struct {
    int64_t first_on, last_off; /* the first step it was on, the last in which it went off */
    int64_t pulses, changes;    /* how often it went on, and changed */
    int32_t highest, last;      /* values */
} tw_summary;

typedef struct tw_world tw_world;
typedef uint32_t (*tw_shuffle)(int32_t x, int32_t y, int32_t z);

TW_API int32_t tw_version(void);
TW_API int32_t tw_size(int32_t which); /* of tw_part, tw_rules, tw_act, tw_note, tw_change, tw_summary, ... */
TW_API tw_world *tw_new(void);
TW_API void tw_free(tw_world *w);

/* Lay parts and settle: cells[4 * i ...] is x, y, z and the place in the palette of part i; probes[4 * i ...] a watched
   cell, and 1 if it shows whether a part stands there, 0 if what it shows. `order` is 0 canonical, 1 reversed, 2 by
   `shuffle` first. A world can be built again and again. */
TW_API int32_t tw_build(tw_world *w, const tw_rules *rules, const tw_part *palette, int64_t palette_n,
                        const int32_t *cells, int64_t cells_n, const int32_t *probes, int64_t probes_n, int32_t order,
                        tw_shuffle shuffle);

/* Read the cells of a layer from text, as tw_build takes them: rows end with 0x0a, 0x20 is an empty cell, 0x21 + p the
   part at place p of the palette. Gives how many there are; TW_BAD_SIZE if that is more than into_n. */
TW_API int64_t tw_layer(const uint16_t *text, int64_t text_n, int32_t z, int32_t *into, int64_t into_n);
TW_API int32_t tw_script(tw_world *w, const tw_act *acts, int64_t acts_n); /* in order of steps; added to those there */
TW_API int32_t tw_log(tw_world *w, int32_t keep);                          /* enum tw_keep */
TW_API int32_t tw_advance(tw_world *w, int64_t until, int64_t budget); /* steps before `until`; about `budget` events */
TW_API int32_t tw_step(tw_world *w, int64_t step);                     /* this step alone; it must be after the last */
TW_API int32_t tw_do(tw_world *w, const tw_act *act);                  /* at the end of the step now */
TW_API int64_t tw_next(const tw_world *w); /* the next step in which anything happens, -1 if none */
TW_API int64_t tw_now(const tw_world *w);
TW_API int64_t tw_events(const tw_world *w);                              /* how many parts came due so far */
TW_API int32_t tw_values(tw_world *w, int32_t *values, int64_t values_n); /* what the watched cells show now */
TW_API int32_t tw_summaries(const tw_world *w, tw_summary *into, int64_t into_n);
TW_API int64_t tw_notes(tw_world *w, tw_note *into, int64_t into_n);     /* takes them out; how many */
TW_API int64_t tw_changes(tw_world *w, tw_change *into, int64_t into_n); /* likewise */
TW_API int32_t tw_copy(tw_world *to, const tw_world *from);              /* `to` goes on as `from` would */

/* --- many runs in one call ---------------------------------------------------------------------------------------- */

/* One layout of a batch; places in the arrays handed to tw_batch. */
typedef struct {
    int64_t cells, cells_n;   /* cells[4 * (cells + i) ...] */
    int64_t probes, probes_n; /* probes[4 * (probes + i) ...] */
    int32_t rules, order;     /* rules[...]; as tw_build takes it */
    tw_shuffle shuffle;
} tw_layout;

/* One run: a layout, its acts, and where its summaries go, one for each probe. */
typedef struct {
    int64_t layout;
    int64_t acts, acts_n; /* acts[acts + i] */
    int64_t summaries;    /* summaries[summaries + probe] */
} tw_job;

/* How a run ended. */
typedef struct {
    int64_t last_step; /* in which anything happened */
    int64_t events;    /* how many came due */
    int32_t at_rest;   /* 1: nothing is left to happen */
    int32_t status;
} tw_ending;

typedef struct {
    const tw_rules *rules;
    const tw_part *palette;
    const int32_t *cells, *probes;
    const tw_layout *layouts;
    const tw_act *acts;
    const tw_job *jobs;
    tw_summary *summaries;
    tw_ending *endings; /* endings[job] */
    int64_t rules_n, palette_n, cells_n, probes_n, layouts_n, acts_n, jobs_n, summaries_n;
} tw_batch_data;

/* Run jobs first .. end - 1 over steps 0 to steps - 1. A job that follows one of the same layout does not build again.
   `base` and `w` are worlds to work in. Stops at the first job that fails, with its status. */
TW_API int32_t tw_batch(tw_world *base, tw_world *w, const tw_batch_data *data, int64_t first, int64_t end,
                        int64_t steps);

/* Press the button in that cell at `step`, for each length in turn (ascending, from 1), and run on to `until`; `from`
   has been run to a step before. summaries[length * probes + probe], endings[length]. */
TW_API int32_t tw_lengths(tw_world *held, tw_world *w, const tw_world *from, const int32_t *cell, int64_t step,
                          int64_t until, const int64_t *lengths, int64_t lengths_n, tw_summary *summaries,
                          int64_t summaries_n, tw_ending *endings);

/* Further acts, tried in copies of a run. Run `held`, which has its own script, on to before the first act of each job
   first .. jobs_n - 1 in turn (acts[starts[job]] .. acts[starts[job + 1] - 1], at least one, steps ascending; first
   steps ascending from job to job, after what `held` has simulated), copy it, let the acts of the job come as well and
   run to before `until`. into[ends[job - 1]] .. into[ends[job] - 1] are the changes kept of that run, from where
   `held` began to keep them on; endings[job]. Gives the job at which it stopped since `into` is full, jobs_n when all
   are done, or a status. `ends` counts from the first job of the call. */
TW_API int64_t tw_further(tw_world *held, tw_world *w, const tw_act *acts, int64_t acts_n, const int64_t *starts,
                          int64_t first, int64_t jobs_n, int64_t until, tw_change *into, int64_t into_n, int64_t *ends,
                          tw_ending *endings);

/* --- all states that can be reached ------------------------------------------------------------------------------- */

typedef struct tw_graph tw_graph;

/* The states from the one that `from` is in at the end of that step. List l holds the acts ways[sum of the lengths
   before it ...], which the hand may do one after the other at the end of a step. Only where nothing moves, is built,
   holds items or is trodden on. */
TW_API tw_graph *tw_graph_new(const tw_world *from, int64_t step, const tw_act *acts, int64_t acts_n,
                              const int32_t *ways, int64_t ways_n, const int32_t *lengths, int64_t lists_n,
                              int32_t *status);
TW_API void tw_graph_free(tw_graph *g);
/* Before any state is explored: forget switch-offs of torches as soon as they count no more if those of a torch always
   lie so far apart that none can burn out. Crowded: some did not, and what was found may be wrong. */
TW_API int32_t tw_graph_forget(tw_graph *g);
TW_API int32_t tw_graph_crowded(const tw_graph *g);
TW_API int64_t tw_graph_states(const tw_graph *g); /* known so far; they are numbered as they are found */
TW_API int32_t tw_graph_explore(tw_graph *g, int64_t first, int64_t end);
/* Of n states from the first: after[state * (lists + 1) ...]: what follows hands off, then by each list, -1 if an act
   of it changes nothing or the state is not explored; shown[state * probes ...]; rests[state]: nothing is outstanding.
 */
TW_API int32_t tw_graph_read(const tw_graph *g, int64_t first, int64_t n, int32_t *after, int32_t *shown,
                             uint8_t *rests);
TW_API int64_t tw_graph_edges(const tw_graph *g); /* different pairs of a state and one that follows it */
/* What follows each state hands off, all being explored: steps to rest, then for each probe steps until it is off for
   good, then for each how many pulses begin later; -1: never, or no end of them. */
TW_API int32_t tw_graph_futures(tw_graph *g, int32_t *into, int64_t into_n);

/* --- the states together with what is remembered of presses ----------------------------------------------------------
 */

/* What one watched cell must do, in steps from a press; -1 where nothing is asked for. It is on at some step from the
   press up to `within`; after the last press it is on from `within` until before `at_least`, and off from `at_most` on.
   It never shows a level from 1 to `lowest` - 1, and never comes on at all if `never` is 1. */
typedef struct {
    int32_t output; /* which watched cell of the graph */
    int32_t within, at_least, at_most, lowest, never;
} tw_limit;

/* What is wrong, in the row of a pair: -2 - fault in the place of the steps since the last press, then a number. */
enum tw_fault {
    TW_COMES_ON,
    TW_TOO_LOW, /* the level */
    TW_NOT_YET_ON,
    TW_OFF_EARLY, /* the steps since the last press */
    TW_ON_LATE    /* likewise */
};

/* How far a walk came: TW_MORE, or one of these. */
enum tw_walk {
    TW_WALKED_ALL = 2, /* every pair that can be reached is expanded */
    TW_WALK_LIMIT = 3, /* as many as the limit are, and there are more */
    TW_WALK_FAULT = 4, /* the next pair has a fault */
    TW_WALK_LAYER = 5, /* the next pair takes more presses than all before it */
    TW_WALK_ASKS = 6   /* what follows for the monitor is not known: tell it, and go on */
};

typedef struct tw_product tw_product;

/* Pairs of a state and what each limit remembers, from state 0 on. At most `hands` presses (-1: any number) on every
   `grid`-th step. The graph must outlive the product; its states are explored as they are needed. */
TW_API tw_product *tw_product_new(tw_graph *g, const tw_limit *limits, int64_t limits_n, int32_t hands, int32_t grid,
                                  int32_t *status);
TW_API void tw_product_free(tw_product *p);
/* Expand pairs in the order of presses, then steps, then of being found: `most` now, `limit` in all. `at` becomes the
   pair at which it stopped. */
TW_API int32_t tw_product_walk(tw_product *p, int64_t most, int64_t limit, int32_t *at);
TW_API int64_t tw_product_pairs(const tw_product *p); /* known so far */
TW_API int64_t tw_product_expanded(const tw_product *p);
TW_API int64_t tw_product_edges(const tw_product *p); /* different pairs of a pair and one that follows it */
/* The row of a pair (state, place on the grid, two numbers for each limit), and the presses and steps to it. */
TW_API int32_t tw_product_read(const tw_product *p, int64_t pair, int32_t *row, int64_t row_n, int32_t cost[2]);
/* The list done in each step on the way to a pair, -1 hands off; how many steps. */
TW_API int64_t tw_product_way(const tw_product *p, int64_t pair, int32_t *lists, int64_t lists_n);
/* Takes out pairs expanded so far, in order, with the states of the circuit in them; how many. */
TW_API int64_t tw_product_layer(tw_product *p, int32_t *pairs, int32_t *states, int64_t n);

/* --- the states together with a monitor of the caller's --------------------------------------------------------------
 */

/* What the caller may say instead of a state of its monitor, which it numbers from 0. */
enum tw_say {
    TW_IS_FORBIDDEN = -1, /* the hand may not do this now */
    TW_IS_UNJUDGED = -2,  /* nothing is judged from now on */
    TW_IS_WRONG = -3
};

typedef struct tw_monitored tw_monitored;

/* Couples of a state and one of the monitor, from 0 and 0 on, in the order of steps. The graph must outlive it. */
TW_API tw_monitored *tw_monitored_new(tw_graph *g, int32_t *status);
TW_API void tw_monitored_free(tw_monitored *m);
/* Follow `most` couples now, `limit` in all. At TW_WALK_ASKS `at` is the monitor's state, the list of acts (-1 hands
   off), and the face of what is shown then; at TW_WALK_FAULT the couple before, the list and the face. */
TW_API int32_t tw_monitored_walk(tw_monitored *m, int64_t most, int64_t limit, int32_t at[3]);
/* Say once what follows for the monitor: its next state, or one of enum tw_say. */
TW_API int32_t tw_monitored_tell(tw_monitored *m, int32_t watcher, int32_t move, int32_t face, int32_t next);
TW_API int64_t tw_monitored_couples(const tw_monitored *m); /* known so far */
TW_API int64_t tw_monitored_expanded(const tw_monitored *m);
/* What the probes of the graph show with a face. */
TW_API int32_t tw_monitored_face(const tw_monitored *m, int32_t face, int32_t *levels, int64_t levels_n);
/* The list done in each step on the way to a couple, -1 hands off; how many steps. */
TW_API int64_t tw_monitored_way(const tw_monitored *m, int64_t couple, int32_t *moves, int64_t moves_n);

/* --- all layouts of a small box ----------------------------------------------------------------------------------- */

enum { TW_MOST_VERDICTS = 256 };
enum tw_lane_flags {
    TW_LANE_RESTS_ON = 1, /* on before the first act */
    TW_LANE_GOES_ON = 2,  /* the circuit did not come to rest in its time */
    TW_LANE_CUT = 4       /* there are more edges */
};
enum tw_count { TW_COUNT_VALID, TW_COUNT_CANONICAL, TW_COUNT_LIVE, TW_COUNT_RUN, TW_COUNT_RESTLESS, TW_COUNTS };

/* A box of up to 32 cells, what may stand in each, and what the hand does to the one trigger. */
typedef struct {
    const tw_rules *rules;
    const tw_part *palette; /* option 0 is an empty cell, option i is palette[i - 1]; no piston, container, item */
    const uint8_t *images;  /* images[s * (palette_n + 1) + option]: the option mirrored: s & 1 east for west, s & 2
                               north for south, then s & 4 x for y */
    const tw_act *acts[2];  /* for a button and for a lever; steps count from `start`, cells are filled in */
    int64_t acts_n[2];
    int64_t palette_n;
    int64_t start, steps; /* the first act may come then; so many steps are watched from there */
    int64_t budget;       /* a run is given up after about so many events */
    int32_t nx, ny, nz;
    int32_t symmetries_n; /* 4, or 8 where nx is ny */
} tw_layouts_data;

/* Of a pattern of on and off, met for the first time: 0 if it is of no interest, else a number under
   TW_MOST_VERDICTS. edges[i]: steps from `start`, on and off by turns. */
typedef int32_t (*tw_judge)(const int64_t *edges, int32_t n, int32_t flags);
/* A layout whose `cell` does what has that verdict; how many parts may be in the next one that is wanted. */
typedef int32_t (*tw_take)(int32_t verdict, const uint8_t *options, int32_t cell, int32_t parts);

/* Go through all layouts whose first cells are the prefix. counts[enum tw_count] are added to; most[verdict] parts are
   wanted at most at first. Cells lie column by column, each from below, columns from west to east, then north to
   south. Of mirror images only the largest is run, and only layouts in which each part may matter to some cell. */
TW_API int32_t tw_layouts(tw_world *w, const tw_layouts_data *d, const uint8_t *prefix, int32_t prefix_n,
                          int64_t *counts, const int32_t *most, tw_judge judge, tw_take take);

/* --- nets routed through a room --------------------------------------------------------------------------------------
 */

typedef struct tw_router tw_router;

/* A room of size[0] * size[1] * size[2] = n cells, numbered (z * deep + y) * wide + x. wire[cell], block[cell]: 0 where
   any net may have a wire or a support, -1 where none may, else the number of the only net that may. cuts[cell]: what
   stands there for good cuts a climb. A wire has `loss` levels less than the one before it. */
TW_API tw_router *tw_router_new(const int32_t size[3], const int32_t *wire, const int32_t *block, const uint8_t *cuts,
                                int64_t n, int32_t loss, int32_t *status);
TW_API void tw_router_free(tw_router *r);
/* Add a net: its number, the level and the cells that it may begin in, and its goals, which are reached in that order.
   A row of goals: where its cells end in `cells`, the least level there, the most repeaters before it. Gives its index.
 */
TW_API int32_t tw_router_net(tw_router *r, int32_t number, int32_t level, const int32_t *starts, int64_t starts_n,
                             const int32_t *cells, int64_t cells_n, const int32_t *goals, int64_t goals_n);
/* Route a net anew; what is claimed more than once costs so much more. */
TW_API int32_t tw_router_reroute(tw_router *r, int32_t which, double price);
/* The nets that are in conflict or do not reach all goals, their cells in conflict grow dearer; how many. */
TW_API int64_t tw_router_unhappy(tw_router *r, int32_t *into, int64_t into_n);
TW_API int32_t tw_router_drop(tw_router *r);       /* take out nets until no two are in conflict */
TW_API int64_t tw_router_pops(const tw_router *r); /* steps of the search so far */
/* What a net takes: 0 its wires (cell, level, part, repeaters before it), 1 its repeaters (cell; facing 0 north, 1
   south, 2 east, 3 west), 2 the wire that meets each goal, or -1. How many numbers that is; only into_n are written. */
TW_API int64_t tw_router_read(const tw_router *r, int32_t which, int32_t what, int32_t *into, int64_t into_n);

/* --- places of tiles ------------------------------------------------------------------------------------------------
 */

/* Tiles on the ground of a room. A way of lying is a number under 8. shapes[(instance * 8 + way) * 4 ...]: the lowest x
   and y of the rectangle it keeps, counted from where it lies, and the highest. ports[(port * 8 + way) * 2 ...]: where
   a port is met. Net i has the pins (instance, port) from net_ends[i] on to net_ends[i + 1]; instance i is in the
   own_nets and may lie in the ways from own_ends[i] and way_ends[i] on. fixed[instance * 3 ...]: 0 it may lie anywhere,
   1 it lies at the x and y that follow, 2 to 5 it keeps to the west, north, east, south. reach[pin]: how many cells it
   may lie from the first pin of its net, -1 as many as it likes; each cell more costs `far` cells of wire. taken: x and
   y of ground that is built upon. at, way and state (of chance) are where it begins and where it ends. */
typedef struct {
    const int32_t *shapes, *ports, *net_ends, *pins, *own_ends, *own_nets, *way_ends, *ways, *fixed, *reach, *taken;
    int32_t *at, *way;
    uint64_t *state;
    int64_t instances_n, nets_n, pins_n, ports_n, own_n, ways_n, taken_n;
    double hot, cold, overlap; /* heat at first and at last; what a cell of overlap costs */
    int32_t room[2], far;
} tw_anneal_data;

/* Makes the changes `first` to `last` of `moves`; into: the wire length and the overlap then. */
TW_API int32_t tw_anneal(const tw_anneal_data *d, int64_t first, int64_t last, int64_t moves, int64_t into[2]);

#endif
