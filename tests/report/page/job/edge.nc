(side A: 3 mm off the left edge, then a slot)
G21 G90 G17 G94
T1 M6
S16000 M3
G0 X0 Y-6 Z5
G0 Z-16
G1 Y46 F900
G0 Z5
G0 X66 Y12
G0 Z-2
G1 X-5 F900
G0 Z5
G0 X66
G0 Z-4
G1 X-5 F900
G0 Z5
(what the flutes, 12 long, did not reach at 16 deep)
G0 X0 Y-6
G0 Z-10
G1 Y46 F900
G0 Z5
M5
M2
