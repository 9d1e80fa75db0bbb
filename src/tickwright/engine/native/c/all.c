/* The library as one unit, so that the compiler sees through the calls from file to file. */

#include "anneal.c"
#include "batch.c"
#include "edit.c"
#include "events.c"
#include "geometry.c"
#include "grid.c"
#include "ground.c"
#include "hand.c"
#include "items.c"
#include "layouts.c"
#include "links.c"
#include "pistons.c"
#include "routes.c"
#include "rows.c"
#include "run.c"
#include "signals.c"
#include "states.c"

/* These use the graph of states.c. */
#include "monitored.c"
#include "product.c"
