// The parts as Verilog modules (IEEE 1364-2005): a model of the block world that shares no code with Tickwright.
//
// Simulated time orders everything. A step takes `STEP units. A part that is due acts at a time made of its step, its
// priority and its ticket; tickets are handed out in the order of scheduling. What listens wakes when the level at its
// port changes, and looks RANK units later: ranks follow the (z, y, x) order of the cells and are less than `GAP, so that
// everyone has looked before the next change. Time starts one step early: that is when all are told at the start.
`define GAP 64
`define SLOT (64'd64 << 14)
`define STEP (64'd64 << 17)
`define NOW_STEP ($time < `STEP ? 64'd0 : $time / `STEP - 1)

// An appointment: at most one is outstanding. SLOT 0 .. 3 stands for the priorities -3 .. 0.
`define APPOINTMENTS \
  reg outstanding; \
  reg [63:0] due; \
  initial outstanding = 0; \
  task schedule(input integer steps, input integer slot); \
    if (!outstanding) begin \
      bench.tickets = bench.tickets + 1; \
      due = (`NOW_STEP + steps + 1) * `STEP + slot * `SLOT + bench.tickets * `GAP; \
      outstanding = 1; \
    end \
  endtask

module button #(parameter START = 0, STEPS = 20) (output reg [3:0] out);
  `APPOINTMENTS
  initial out = 0;
  task use_it; if (out == 0) begin out = 15; schedule(STEPS, 3); end endtask
  always begin
    wait (outstanding); #(due - $time); outstanding = 0;
    out = 0;
  end
endmodule

module lever #(parameter START = 0) (output reg [3:0] out);
  initial out = START;
  task use_it; out = out == 0 ? 15 : 0; endtask
endmodule

module repeater #(parameter RANK = 1, TICKS = 1, AHEAD = 0) (input [3:0] rear, input [3:0] lock, output reg [3:0] out);
  `APPOINTMENTS
  reg gone;
  initial out = 0;
  task look; if (lock == 0 && (rear != 0) != (out != 0)) schedule(2 * TICKS, AHEAD ? 0 : out != 0 ? 1 : 2); endtask
  initial begin
    #RANK look;
    forever begin @(rear or lock); #RANK look; end
  end
  always begin
    wait (outstanding); #(due - $time); outstanding = 0;
    if (lock == 0) begin
      gone = rear == 0;
      if (out == 0) begin
        out = 15;
        #(`GAP - 1); // the others are told
        if (gone) schedule(2 * TICKS, 1);
      end else if (gone) out = 0;
    end
  end
endmodule

module comparator #(parameter RANK = 1, DIFFERENCE = 0, AHEAD = 0) (input [3:0] rear, input [3:0] flank, output reg [3:0] out);
  `APPOINTMENTS
  wire [3:0] result = rear < flank ? 0 : DIFFERENCE ? rear - flank : rear;
  initial out = 0;
  task look; if (result != out) schedule(2, AHEAD ? 2 : 3); endtask
  initial begin
    #RANK look;
    forever begin @(rear or flank); #RANK look; end
  end
  always begin
    wait (outstanding); #(due - $time); outstanding = 0;
    out = result;
  end
endmodule

module torch #(parameter RANK = 1) (input [3:0] power, output reg [3:0] out);
  `APPOINTMENTS
  reg burnt;
  integer offs; // switch-offs so far; the last eight are kept
  integer off_step [0:7];
  initial begin out = 15; burnt = 0; offs = 0; end
  task look; if (!burnt && (power != 0) == (out != 0)) schedule(2, 3); endtask
  initial begin
    #RANK look;
    forever begin @(power); #RANK look; end
  end
  always begin
    wait (outstanding); #(due - $time); outstanding = 0;
    burnt = 0;
    if (out != 0 && power != 0) begin
      off_step[offs % 8] = `NOW_STEP;
      offs = offs + 1;
      if (offs >= 8 && `NOW_STEP - off_step[offs % 8] <= 60) begin burnt = 1; schedule(160, 3); end
      out = 0;
    end else if (out == 0 && power == 0) out = 15;
  end
endmodule

module lamp #(parameter RANK = 1) (input [3:0] power, output reg [3:0] out);
  `APPOINTMENTS
  initial out = 0;
  task look; if (power != 0) out = 15; else if (out != 0) schedule(4, 3); endtask
  initial begin
    #RANK look;
    forever begin @(power); #RANK look; end
  end
  always begin
    wait (outstanding); #(due - $time); outstanding = 0;
    if (power == 0) out = 0;
  end
endmodule

// A level after so many cells of wire.
module wires #(parameter LOSS = 0) (input [3:0] in, output [3:0] out);
  assign out = in > LOSS ? in - LOSS : 0;
endmodule

module stronger (input [3:0] a, input [3:0] b, output [3:0] out);
  assign out = a > b ? a : b;
endmodule
