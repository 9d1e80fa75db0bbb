"""The Verilog of each static part (IEEE Std 1364-2005), by the name of its module. Texts only.

A step is STEP units of time. What a part schedules is due DELAY steps later, in the unit of that step which its
priority and the order of scheduling give: AT and, for each change so far, EACH. So no two parts act in one unit. What a
part hears comes as one port, already reduced to the strongest source; it looks at it once all has settled (`#0`), and
acts by a transport delay on `go`.
"""

from __future__ import annotations

__all__ = ["MODULES"]

_CLOCK = """\
  parameter [63:0] STEP = 1, EACH = 0;
  reg due = 0;  // an entry is outstanding
  reg go = 0;   // changes when it is due
"""

MODULES: dict[str, str] = {
    "tw_repeater": f"""\
// Hears its back, gives to its front after DELAY steps; frozen while it is locked. A short pulse is stretched.
module tw_repeater(output reg on, input rear, input lock, input started);
{_CLOCK}\
  parameter [63:0] DELAY = 2, AT_ON = 0, AT_OFF = 0, AT_END = 0;
  initial on = 0;
  always begin
    @(rear or lock or started) #0;
    if (started && !due && !lock && rear != on) begin
      due = 1;
      go <= #(DELAY * STEP + (on ? AT_OFF : AT_ON) + bench.changes * EACH - $time % STEP) !go;
    end
  end
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    if (!lock && on) on = rear;
    else if (!lock) begin
      on = 1;
      if (!rear) begin
        due = 1;
        go <= #(DELAY * STEP + AT_END + bench.changes * EACH - $time % STEP) !go;
      end
    end
  end
endmodule
""",
    "tw_comparator": f"""\
// Shows its rear level if no flank is stronger, or less the flank level, DELAY steps after that changes.
module tw_comparator(output reg [3:0] level, input [3:0] rear, input [3:0] flank, input started);
{_CLOCK}\
  parameter [63:0] DELAY = 2, AT = 0;
  parameter DIFFERENCE = 0;
  wire [3:0] computed = rear < flank ? 4'd0 : DIFFERENCE ? rear - flank : rear;
  initial level = 0;
  always begin
    @(computed or started) #0;
    if (started && !due && computed != level) begin
      due = 1;
      go <= #(DELAY * STEP + AT + bench.changes * EACH - $time % STEP) !go;
    end
  end
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    level = computed;
  end
endmodule
""",
    "tw_torch": f"""\
// Lit unless powered; COUNT switch-offs within WINDOW steps burn it out for REST steps.
module tw_torch(output reg on, input power, input started);
{_CLOCK}\
  parameter [63:0] DELAY = 2, AT = 0, AT_FIRST = 0, WINDOW = 60, REST = 160;
  parameter COUNT = 8;
  reg burnt = 0;
  reg [63:0] off_at[0:COUNT - 1];  // off_at[n % COUNT]: the step of switch-off number n
  integer offs = 0;
  initial on = 1;
  always begin
    @(power or started) #0;
    if (started && !due && !burnt && power == on) begin
      due = 1;
      go <= #(DELAY * STEP + AT + bench.changes * EACH - $time % STEP) !go;
    end
  end
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    burnt = 0;
    if (on && power) begin
      off_at[offs % COUNT] = $time / STEP;
      offs = offs + 1;
      if (offs >= COUNT && $time / STEP - off_at[offs % COUNT] <= WINDOW) begin
        burnt = 1;
        due = 1;
        go <= #(REST * STEP + AT_FIRST + bench.changes * EACH - $time % STEP) !go;
      end
      on = 0;
    end
    else if (!on && !power) on = 1;
  end
endmodule
""",
    "tw_lamp": f"""\
// Lights at once; goes dark DELAY steps after it lost power, if it has none then.
module tw_lamp(output reg on, input power, input started);
{_CLOCK}\
  parameter [63:0] DELAY = 4, AT = 0;
  initial on = 0;
  always begin
    @(power or started) #0;
    if (started && power) on = 1;
    else if (started && on && !due) begin
      due = 1;
      go <= #(DELAY * STEP + AT + bench.changes * EACH - $time % STEP) !go;
    end
  end
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    if (!power) on = 0;
  end
endmodule
""",
    "tw_lever": """\
// Stays where the hand puts it.
module tw_lever(output reg on);
  parameter THROWN = 0;
  initial on = THROWN;
  task flip; on = !on; endtask
  task put_on; on = 1; endtask
  task put_off; on = 0; endtask
endmodule
""",
    "tw_button": f"""\
// On for DELAY steps after a press; a pressed one ignores presses.
module tw_button(output reg on);
{_CLOCK}\
  parameter [63:0] DELAY = 20, AT = 0;
  initial on = 0;
  task press;
    if (!on) begin
      on = 1;
      due = 1;
      go <= #(DELAY * STEP + AT + bench.changes * EACH - $time % STEP) !go;
    end
  endtask
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    on = 0;
  end
endmodule
""",
    "tw_plate": """\
// Goes on at once under a creature; looks again every LOOK steps from then, and only then changes or releases.
module tw_plate(output reg [3:0] level);
  parameter [63:0] STEP = 1, LOOK = 20, AT = 0;
  parameter COUNTS = 0;  // creatures to one level; 0 for a plate that is only on or off
  parameter [3:0] TOP = 15;
  reg go = 0;
  integer creatures = 0;
  initial level = 0;
  task look;
    if (creatures == 0) level = 0;
    else if (COUNTS == 0 || creatures > TOP * COUNTS) level = TOP;
    else level = (creatures + COUNTS - 1) / COUNTS;
  endtask
  task look_later; if (level != 0) go <= #(LOOK * STEP + AT - $time % STEP) !go; endtask
  task tread;
    begin
      creatures = creatures + 1;
      if (level == 0) begin
        look;
        look_later;
      end
    end
  endtask
  task leave; if (creatures > 0) creatures = creatures - 1; endtask
  always @(go) begin
    bench.changes = bench.changes + 1;
    look;
    look_later;
  end
endmodule
""",
    "tw_sensor": f"""\
// A change of what it sees gives a pulse of PULSE steps, DELAY steps later.
module tw_sensor(output reg on, input [3:0] seen, input started);
{_CLOCK}\
  parameter [63:0] DELAY = 2, PULSE = 2, AT = 0, AT_FIRST = 0;
  initial on = 0;
  always begin
    @(seen) #0;
    if (started && !on && !due) begin
      due = 1;
      go <= #(DELAY * STEP + AT + bench.changes * EACH - $time % STEP) !go;
    end
  end
  always @(go) if (due) begin
    bench.changes = bench.changes + 1;
    due = 0;
    if (on) on = 0;
    else begin
      due = 1;
      go <= #(PULSE * STEP + AT_FIRST + bench.changes * EACH - $time % STEP) !go;
      on = 1;
    end
  end
endmodule
""",
    "tw_watch": """\
// Says what a watched cell shows at the end of step 0, and of each step at whose end it shows something else.
module tw_watch(value);
  parameter [63:0] STEP = 1;
  parameter NUMBER = 0, WIDTH = 4;
  input [WIDTH - 1:0] value;
  reg [WIDTH - 1:0] last;
  reg asked = 0;
  reg go = 0;
  initial #(STEP - 1) tell;
  task tell;
    begin
      $display("%0d %0d %0d", $time / STEP, NUMBER, value);
      last = value;
    end
  endtask
  always @(value) if ($time >= STEP && !asked) begin
    asked = 1;
    go <= #(STEP - 1 - $time % STEP) !go;
  end
  always @(go) if (asked) begin
    asked = 0;
    if (value != last) tell;
  end
endmodule
""",
}
