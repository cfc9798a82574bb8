"""Tables of model files that several tests begin with, as text."""

# A US cable, conduits and rope.
PHASE_TABLE = """\
[cable.phase]
diameter = 1.387
weight = 1.795
conductor = { metal = "copper", area = "350 kcmil" }
sidewall_limit = 500
bend_multiple = 12
"""
DUCT_TABLE = """\
[conduit.duct]
type = "PVC-40"
trade_size = "5"
friction = 0.25
"""
RISER_TABLE = """\
[conduit.riser]
inner_diameter = 5.07
outer_diameter = 5.56
friction = 0.35
"""
ROPE_TABLE = """\
[rope.line]
diameter = 0.75
weight = 0.16
friction = 0.15
rated_load = 9000
stretch = 0.012
"""
# An SI job up to the friction of its duct.
FERRY = """\
units = "SI"
[practice]
rules = "NFPA 70"
edition = "2023"
[cable.phase]
diameter = 38
weight = 3.4
conductor = { metal = "copper", area = "240 mm2" }
sidewall_limit = 7300
bend_multiple = 12
[conduit.duct]
inner_diameter = 154
outer_diameter = 168
"""
