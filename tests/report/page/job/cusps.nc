(a ball of 6 mm along x: passes 1.2 and then 0.8 apart, their valleys on the part's top; one far from them)
G21 G90 G17 G94
T2 M6
S18000 M3
G0 X-5 Y14 Z5
G0 Z-0.3
G1 X65 F1200
G1 Y15.2
G1 X-5
G1 Y16.4
G1 X65
G1 Y17.2
G1 X-5
G1 Y18
G1 X65
G0 Z5
G0 Y32
G0 Z-0.3
G1 X-5
G0 Z5
M5
M2
