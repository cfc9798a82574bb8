"""One invented job by stock names, in US units and in SI with European stock.

Charging feeders of a ferry terminal: from a pad 420 ft (128 m) underground with a 30 degree offset,
then up a riser of 60 ft (18 m) to a mezzanine.
"""

US = """\
title = "Ferry terminal: charging feeder F1"
units = "US"
[cable.phase]
stock = "600 V XHHW-2 copper 500 kcmil"
[cable.ground]
stock = "600 V XHHW-2 copper 3 AWG"
[conduit.duct]
stock = "PVC-40 4"
friction = { stock = "lubricated" }
[rope.line]
stock = "polyester double braid 3/4"
[machine.puller]
stock = "capstan 6,000 lbf two-speed"
[[run]]
name = "F1"
cables = { phase = 4, ground = 1 }
rope = "line"
machine = "puller"
route = [
  { at = [0, 0, 0], name = "pad", access = ["reel", "machine"], conduit = "duct" },
  { at = [0, 200, 0], bend = 36 }, { at = [12, 220.785, 0], bend = 36 },
  { at = [12, 420, 0], bend = 36 },
  { at = [12, 420, 60], name = "mezzanine", access = ["reel", "machine"] },
]
"""

SI = """\
title = "Ferry terminal: charging feeder F1"
units = "SI"
[cable.phase]
stock = "0.6/1 kV BS 5467 SWA copper 4x240 mm²"
[cable.ground]
stock = "0.6/1 kV XLPE/PVC unarmored copper 1x120 mm²"
weight = 1.25
[conduit.duct]
stock = "PE-SDR17 160"
friction = { stock = "lubricated" }
[rope.line]
stock = "polyester double braid 3/4"
[machine.puller]
stock = "capstan 30 kN two-speed"
[[run]]
name = "F1"
cables = { phase = 1, ground = 1 }
rope = "line"
machine = "puller"
route = [
  { at = [0, 0, 0], name = "pad", access = ["reel", "machine"], conduit = "duct" },
  { at = [0, 61, 0], bend = 1.0 }, { at = [3.7, 67.409, 0], bend = 1.0 },
  { at = [3.7, 128, 0], bend = 1.0 },
  { at = [3.7, 128, 18], name = "mezzanine", access = ["reel", "machine"] },
]
"""
