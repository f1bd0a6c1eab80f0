"""Surveys of one building: levels, a total station, a tape."""

from __future__ import annotations

LEVELS = """# level book, 4 May
Grade (ft);TOW (ft);Sta. (ft);Remarks;Wall;Top of footing (ft)
101.25;102.00;0.00;corner;North;94.00
;;15.17;;North;94.00
100.75;102.00;15.17;step;North;92.67
100.10;102.00;40.00;;North;92.67
100.10;102.00;40.00;;East;92.67
99.00;101.50;62.25;;East;92.67
"""
TOTAL = """Pt,Run,Face,Easting (m),Northing (m),T.O.W. (m),Footing (m)
1,K,South,5000.000,2000.000,52.400,50.000
2,K,South,5012.000,2000.000,52.400,50.000
3,K,East,5012.000,2000.000,52.400,50.000
4,K,East,5012.000,2004.000,52.400,50.000
5,K,East,5012.000,2004.000,52.400,49.600
6,K,East,5012.000,2008.000,52.400,49.600
7,K,Court,5012.000,2008.000,52.400,49.600
8,K,Court,5006.000,2008.000,52.400,49.600
9,K,Court side,5006.000,2008.000,52.400,49.600
10,K,Court side,5006.000,2013.000,52.400,49.600
11,K,North,5006.000,2013.000,52.400,49.600
12,K,North,5000.000,2013.000,52.400,50.000
13,K,West,5000.000,2013.000,52.400,50.000
14,K,West,5000.000,2000.010,52.400,50.000
"""
TAPE = """Building\tFace\tChainage\tTop\tFtg
Shed\tLong\t0\t8'-0"\t0
Shed\tLong\t1+00.50\t8'-0"\t-6"
Shed\tEnd\t0\t8'-0"\t-6"
Shed\tEnd\t12.75\t7'-6 1/2"\t-6"
"""
