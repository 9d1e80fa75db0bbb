"""Three wishes of a builder at the Saltmarsh ferry landing, as first laid and charted: none keeps its chart yet."""

GATE = '''format = "tickwright plan 1"
title = "Gate, bell and lamp"

[legend]
"#" = "block"
"b" = "long-button"
"w" = "wire"
"r" = "repeater east delay=2"
"1" = "repeater east"
"p" = "pull-piston east"
"s" = "change-sensor south"
"L" = "lamp"

[[layer]]
rows = """
####...
#####..
......
"""

[[layer]]
rows = """
brrwp#.
w111L.s
......L
"""

[triggers]
press = [0, 0, 1]

[outputs]
gate = {cell = [6, 0, 1], shows = "part"}
bell = [6, 2, 1]
lamp = [4, 1, 1]

[[chart]]
name = "one passenger"
shows = [
  "gate: on from press + 0.7 s for 1.4 s",
  "bell: on from gate on for 0.3 s; on from gate off + 0.1 s for 0.3 s",
  "lamp: on from press + 0.6 s until gate off + 0.2 s",
]
'''

TOGGLE = '''format = "tickwright plan 1"
title = "Night light with a safe state"

[legend]
"#" = "block"
"b" = "short-button"
"e" = "lever"
"w" = "wire"
"t" = "torch on=west"
"i" = "torch on=south"
"v" = "repeater south"
"A" = "repeater east delay=3"
"B" = "repeater east"
"d" = "comparator east mode=difference"
"L" = "lamp"

[[layer]]
rows = """
######....
..#..#....
#######...
#.....####
.########.
........#.
"""

[[layer]]
rows = """
bwww#t....
..v..v....
wwAwwBw...
i.....wwdL
#wwwwww.w.
........e.
"""

[triggers]
press = [0, 0, 1]
safe = [8, 5, 1]

[outputs]
lamp = [9, 3, 1]

[[machine]]
name = "light"
states = ["dark", "lit"]
transitions = ["dark: press -> lit", "lit: press -> dark"]

[[chart]]
name = "dark while it is safe"
hand = ["0: press", "4 s: safe:on", "7 s: safe:off", "10 s: press", "13 s: safe:on", "15 s: press", "18 s: safe:off"]
shows = ["lamp: on while light is lit and safe off, late by 0.5 s, give or take 1 tick"]
'''

# What each of the two buttons does alone is never enough; the first to come up shuts the door again.
LOCK_SHOWS = "door: on from 1st south + 0.2 s until 1st north released + 0.3 s"
