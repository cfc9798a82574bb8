"""Stock tables restated a second time, from the collected reference tables: a line for each row.

A line holds the names of its row, joined by a bar, and behind two colons the figures of the columns
that a lookup reads, ``-`` where the row has none.
"""

from __future__ import annotations

from typing import NamedTuple


class Lines(NamedTuple):
    """One table: ``columns`` are those of the figures; ``shown`` is as in ``Restated``."""

    table: str
    source: str
    keys: tuple[str, ...]
    columns: tuple[str, ...]
    text: str
    shown: dict[str, dict[int, object]]


# fmt: off
# ruff: noqa: E501
STOCK_TABLES = (
    Lines(
        "cable_600v_thhn_cu_300_1000",
        "Sheet of a cable maker (diameters read, weights estimated)",
        ("size",),
        ("od_in", "lb_per_kft"),
        """
300 :: 0.756 1010.0
350 :: 0.806 1171.0
400 :: 0.851 1331.0
500 :: 0.934 1650.0
600 :: 1.03 1984.0
750 :: 1.14 2470.0
1000 :: 1.32 3300.0
        """,
        {
            "strands": {0: 37, 3: 37, 6: 61},
            "pvc_mil": {0: 60, 3: 60, 6: 70},
            "nylon_mil": {0: 8, 3: 8, 6: 9},
            "cu_lb_per_kft": {0: 926.0, 3: 1544.0, 6: 3087.0},
        },
    ),
    Lines(
        "cable_600v_xhhw2_al",
        "Sheets of two cable makers (read to 3/0, larger sizes estimated)",
        ("size",),
        ("od_in", "lb_per_kft"),
        """
8 :: 0.227 30
6 :: 0.262 42
4 :: 0.306 58
2 :: 0.361 86
1 :: 0.412 108
1/0 :: 0.449 132
2/0 :: 0.489 161
3/0 :: 0.536 200
4/0 :: 0.588 245
250 :: 0.65 291.0
300 :: 0.7 342.0
350 :: 0.746 394.0
400 :: 0.789 445.0
500 :: 0.866 546.0
600 :: 0.973 669.0
700 :: 1.037 770.0
750 :: 1.068 821.0
900 :: 1.159 972.0
1000 :: 1.22 1073.0
        """,
        {
            "insulation_mil": {0: 45, 9: 65, 18: 80},
            "lb_per_kft_nasx": {4: 110, 5: 134, 6: 163},
            "od_t5a_in": {9: 0.66, 14: 0.98, 18: 1.23},
        },
    ),
    Lines(
        "cable_600v_xhhw2_pvc_cu_1c",
        "Specification sheet of a cable maker (read)",
        ("size",),
        ("od_in", "lb_per_kft"),
        """
1/0 :: 0.56 412
2/0 :: 0.604 506
        """,
        {
            "strands": {0: 19, 1: 19},
            "cond_in": {0: 0.36, 1: 0.404},
            "insulation_mil": {0: 55, 1: 55},
            "ins_in": {0: 0.47, 1: 0.514},
            "jacket_mil": {0: 45, 1: 45},
            "cu_lb_per_kft": {0: 326, 1: 411},
        },
    ),
    Lines(
        "cable_600v_cu_use2_rhw2",
        "UL 44, UL 854 walls (read), diameters and weights estimated",
        ("size",),
        ("od_in", "lb_per_kft"),
        """
2 :: 0.407 238.0
1 :: 0.487 310.0
1/0 :: 0.526 383.0
2/0 :: 0.57 473.0
3/0 :: 0.621 587.0
4/0 :: 0.677 730.0
250 :: 0.753 871.0
300 :: 0.806 1034.0
350 :: 0.856 1196.0
400 :: 0.901 1357.0
500 :: 0.984 1678.0
600 :: 1.091 2024.0
700 :: 1.16 2344.0
750 :: 1.193 2505.0
1000 :: 1.342 3303.0
        """,
        {
            "insulation_mil": {0: 60, 7: 95, 14: 110},
            "cu_lb_per_kft": {0: 205.0, 7: 926.0, 14: 3087.0},
        },
    ),
    Lines(
        "cable_600v_tc_multiconductor",
        "Specification sheets of a cable maker (read to 1 AWG, larger estimated)",
        ("cores", "size"),
        ("od_in", "lb_per_kft"),
        """
3 | 8 :: 0.688 327
3 | 6 :: 0.782 466
3 | 4 :: 0.806 612
3 | 2 :: 0.982 927
3 | 1 :: 1.106 1142
3 | 1/0 :: 1.2 1380.0
3 | 2/0 :: 1.29 1670.0
3 | 3/0 :: 1.4 2080.0
3 | 4/0 :: 1.52 2530.0
3 | 250 :: 1.66 2970.0
3 | 350 :: 1.94 4140.0
3 | 500 :: 2.22 5710.0
3 | 750 :: 2.67 8400.0
4 | 8 :: 0.755 403
4 | 6 :: 0.902 613
4 | 4 :: 0.918 804
4 | 2 :: 1.046 1185
4 | 1 :: 1.202 1496
4 | 1/0 :: 1.299 1760.0
2 | 8 :: 0.592 242
        """,
        {
            "insulation_mil": {0: 45, 10: 65, 19: 45},
            "jacket_mil": {0: 60, 10: 110, 19: 60},
            "cu_lb_per_kft": {0: 186, 14: 378, 19: 135},
        },
    ),
    Lines(
        "cable_ground_copper",
        "Catalog and sheet of two cable makers (read; three sizes cross-checked)",
        ("kind", "size", "wires"),
        ("od_in", "lb_per_kft"),
        """
bare | 8 | 1 :: 0.128 50
bare | 6 | 1 :: 0.162 79
bare | 1/0 | 7 :: 0.368 326
bare | 1/0 | 19 :: 0.373 326
bare | 2/0 | 7 :: 0.414 411
bare | 2/0 | 19 :: 0.418 411
bare | 3/0 | 7 :: 0.464 518
bare | 3/0 | 19 :: 0.47 518
bare | 4/0 | 7 :: 0.522 653
bare | 4/0 | 19 :: 0.528 653
bare | 250 | 19 :: 0.574 772
bare | 250 | 37 :: 0.575 772
bare | 500 | 37 :: 0.814 1544
bare | 4 | 7 :: 0.232 129.0
bare | 2 | 7 :: 0.292 205.0
bare | 1 | 19 :: 0.332 258.0
insulated (THWN-2 green) | 6 | 19 :: 0.256 98
insulated (THWN-2 green) | 4 | 19 :: 0.325 155
insulated (THWN-2 green) | 2 | 19 :: 0.386 236
insulated (THWN-2 green) | 1 | 19 :: 0.443 300
insulated (THWN-2 green) | 1/0 | 19 :: 0.484 372
insulated (THWN-2 green) | 2/0 | 19 :: 0.529 462
insulated (THWN-2 green) | 3/0 | 19 :: 0.579 575
insulated (THWN-2 green) | 4/0 | 19 :: 0.635 716
        """,
        {
        },
    ),
    Lines(
        "cable_mv_tape_shield",
        "Specification sheets of a cable maker (nine rows read, the rest estimated)",
        ("kv", "level", "metal", "size"),
        ("od_in", "lb_per_kft"),
        """
5/8 | 133/100 | Cu | 2 :: 0.755 458
5/8 | 133/100 | Cu | 1/0 :: 0.87 645
5/8 | 133/100 | Cu | 2/0 :: 0.914 751
5/8 | 133/100 | Cu | 3/0 :: 0.964 883
15 | 100 | Cu | 2 :: 0.911 569
15 | 100 | Cu | 350 :: 1.277 1661
15 | 100 | Cu | 750 :: 1.644 -
35 | 133 | Cu | 1/0 :: 1.48 1249
35 | 100 | Cu | 1/0 :: - -
5/8 | 133/100 | Cu | 4/0 :: 1.021 1046.0
5/8 | 133/100 | Cu | 250 :: 1.074 1194.0
5/8 | 133/100 | Cu | 350 :: 1.177 1554.0
5/8 | 133/100 | Cu | 500 :: 1.305 2080.0
5/8 | 133/100 | Cu | 750 :: 1.524 2990.0
5/8 | 133/100 | Cu | 1000 :: 1.733 3978.0
5/8 | 133/100 | Al | 2 :: 0.727 285.0
5/8 | 133/100 | Al | 1/0 :: 0.845 406.0
5/8 | 133/100 | Al | 2/0 :: 0.885 451.0
5/8 | 133/100 | Al | 4/0 :: 0.984 573.0
5/8 | 133/100 | Al | 250 :: 1.036 638.0
5/8 | 133/100 | Al | 350 :: 1.132 779.0
5/8 | 133/100 | Al | 500 :: 1.252 979.0
5/8 | 133/100 | Al | 750 :: 1.464 1347.0
5/8 | 133/100 | Al | 1000 :: 1.616 1661.0
15 | 100 | Cu | 1/0 :: 0.99 742.0
15 | 100 | Cu | 2/0 :: 1.034 852.0
15 | 100 | Cu | 4/0 :: 1.141 1157.0
15 | 100 | Cu | 250 :: 1.194 1309.0
15 | 100 | Cu | 500 :: 1.425 2216.0
15 | 100 | Cu | 750 :: 1.644 3146.0
15 | 100 | Cu | 1000 :: 1.853 4157.0
15 | 100 | Al | 2 :: 0.897 424.0
15 | 100 | Al | 1/0 :: 0.965 501.0
15 | 100 | Al | 2/0 :: 1.005 549.0
15 | 100 | Al | 4/0 :: 1.104 681.0
15 | 100 | Al | 250 :: 1.156 750.0
15 | 100 | Al | 350 :: 1.252 900.0
15 | 100 | Al | 500 :: 1.372 1111.0
15 | 100 | Al | 750 :: 1.584 1497.0
15 | 100 | Al | 1000 :: 1.796 1968.0
15 | 133 | Cu | 250 :: 1.284 1403.0
15 | 133 | Cu | 500 :: 1.515 2325.0
15 | 133 | Cu | 750 :: 1.794 3412.0
15 | 133 | Cu | 1000 :: 1.943 4298.0
15 | 133 | Al | 2 :: 0.987 498.0
15 | 133 | Al | 1/0 :: 1.055 579.0
15 | 133 | Al | 2/0 :: 1.095 630.0
15 | 133 | Al | 4/0 :: 1.194 768.0
15 | 133 | Al | 250 :: 1.246 841.0
15 | 133 | Al | 350 :: 1.342 997.0
15 | 133 | Al | 500 :: 1.462 1216.0
15 | 133 | Al | 750 :: 1.734 1755.0
15 | 133 | Al | 1000 :: 1.886 2106.0
25 | 100 | Cu | 1/0 :: 1.16 898.0
25 | 100 | Cu | 2/0 :: 1.204 1014.0
25 | 100 | Cu | 4/0 :: 1.311 1332.0
25 | 100 | Cu | 250 :: 1.364 1491.0
25 | 100 | Cu | 350 :: 1.467 1873.0
25 | 100 | Cu | 500 :: 1.595 2427.0
25 | 100 | Cu | 750 :: 1.874 3534.0
25 | 100 | Cu | 1000 :: 2.023 4429.0
25 | 100 | Al | 1/0 :: 1.135 653.0
25 | 100 | Al | 2/0 :: 1.175 707.0
25 | 100 | Al | 4/0 :: 1.274 851.0
25 | 100 | Al | 250 :: 1.326 926.0
25 | 100 | Al | 350 :: 1.422 1089.0
25 | 100 | Al | 500 :: 1.542 1315.0
25 | 100 | Al | 750 :: 1.814 1873.0
25 | 100 | Al | 1000 :: 1.966 2233.0
25 | 133 | Cu | 1/0 :: 1.28 1021.0
25 | 133 | Cu | 2/0 :: 1.324 1141.0
25 | 133 | Cu | 4/0 :: 1.431 1468.0
25 | 133 | Cu | 250 :: 1.484 1632.0
25 | 133 | Cu | 350 :: 1.587 2024.0
25 | 133 | Cu | 500 :: 1.775 2731.0
25 | 133 | Cu | 750 :: 1.994 3726.0
25 | 133 | Cu | 1000 :: 2.143 4634.0
25 | 133 | Al | 1/0 :: 1.255 774.0
25 | 133 | Al | 2/0 :: 1.295 831.0
25 | 133 | Al | 4/0 :: 1.394 984.0
25 | 133 | Al | 250 :: 1.446 1064.0
25 | 133 | Al | 350 :: 1.542 1235.0
25 | 133 | Al | 500 :: 1.722 1609.0
25 | 133 | Al | 750 :: 1.934 2059.0
25 | 133 | Al | 1000 :: 2.086 2433.0
35 | 100 | Cu | 1/0 :: 1.33 1075.0
35 | 100 | Cu | 2/0 :: 1.374 1197.0
35 | 100 | Cu | 4/0 :: 1.481 1529.0
35 | 100 | Cu | 250 :: 1.534 1694.0
35 | 100 | Cu | 350 :: 1.637 2090.0
35 | 100 | Cu | 500 :: 1.825 2805.0
35 | 100 | Cu | 750 :: 2.044 3809.0
35 | 100 | Cu | 1000 :: 2.193 4723.0
35 | 100 | Al | 1/0 :: 1.305 827.0
35 | 100 | Al | 2/0 :: 1.345 886.0
35 | 100 | Al | 4/0 :: 1.444 1043.0
35 | 100 | Al | 250 :: 1.496 1125.0
35 | 100 | Al | 350 :: 1.592 1300.0
35 | 100 | Al | 500 :: 1.772 1682.0
35 | 100 | Al | 750 :: 1.984 2140.0
35 | 100 | Al | 1000 :: 2.136 2519.0
35 | 133 | Cu | 2/0 :: 1.524 1376.0
35 | 133 | Cu | 4/0 :: 1.631 1720.0
35 | 133 | Cu | 250 :: 1.744 2030.0
35 | 133 | Cu | 350 :: 1.847 2446.0
35 | 133 | Cu | 500 :: 1.975 3041.0
35 | 133 | Cu | 750 :: 2.194 4070.0
35 | 133 | Cu | 1000 :: 2.343 5000.0
35 | 133 | Al | 1/0 :: 1.455 999.0
35 | 133 | Al | 2/0 :: 1.495 1063.0
35 | 133 | Al | 4/0 :: 1.594 1230.0
35 | 133 | Al | 250 :: 1.646 1318.0
35 | 133 | Al | 350 :: 1.802 1647.0
35 | 133 | Al | 500 :: 1.922 1912.0
35 | 133 | Al | 750 :: 2.134 2394.0
35 | 133 | Al | 1000 :: 2.286 2790.0
        """,
        {
            "insulation_mil": {0: 115, 58: 260, 115: 420},
            "cond_in": {0: 0.282, 58: 0.789, 115: 1.06},
            "ins_in": {0: 0.545, 58: 1.355, 115: 1.986},
            "shield_in": {0: 0.605, 58: 1.415, 115: 2.046},
            "jacket_mil": {0: 55, 58: 80, 115: 110},
            "max_pull_lb": {0: 530, 59: 6000, 115: 6000},
            "min_bend_in": {0: 9.0, 59: 22.5, 115: 27.4},
        },
    ),
    Lines(
        "cable_urd_concentric_neutral",
        "ICEA S-94-649 (estimated)",
        ("kv", "level", "size", "neutral"),
        ("od_in", "lb_per_kft"),
        """
15 | 100 | 2 | full :: 0.96 450.0
15 | 100 | 1/0 | full :: 1.04 590.0
15 | 100 | 4/0 | full :: 1.22 970.0
15 | 100 | 1/0 | 1/3 :: 1.04 480.0
15 | 100 | 4/0 | 1/3 :: 1.19 700.0
15 | 100 | 350 | 1/3 :: 1.35 990.0
15 | 100 | 500 | 1/3 :: 1.51 1300.0
15 | 100 | 750 | 1/3 :: 1.83 1930.0
15 | 100 | 1000 | 1/3 :: 1.98 2390.0
15 | 133 | 2 | full :: 1.05 510.0
15 | 133 | 1/0 | full :: 1.13 660.0
15 | 133 | 4/0 | full :: 1.31 1050.0
15 | 133 | 1/0 | 1/3 :: 1.13 540.0
15 | 133 | 4/0 | 1/3 :: 1.28 780.0
15 | 133 | 350 | 1/3 :: 1.44 1070.0
15 | 133 | 500 | 1/3 :: 1.6 1390.0
15 | 133 | 750 | 1/3 :: 1.92 2040.0
15 | 133 | 1000 | 1/3 :: 2.07 2510.0
25 | 100 | 2 | full :: 1.13 570.0
25 | 100 | 1/0 | full :: 1.21 720.0
25 | 100 | 4/0 | full :: 1.39 1120.0
25 | 100 | 1/0 | 1/3 :: 1.21 600.0
25 | 100 | 4/0 | 1/3 :: 1.36 850.0
25 | 100 | 350 | 1/3 :: 1.52 1150.0
25 | 100 | 500 | 1/3 :: 1.74 1550.0
25 | 100 | 750 | 1/3 :: 2.0 2140.0
25 | 100 | 1000 | 1/3 :: 2.15 2620.0
35 | 100 | 1/0 | full :: 1.38 870.0
35 | 100 | 4/0 | full :: 1.56 1280.0
35 | 100 | 1/0 | 1/3 :: 1.38 750.0
35 | 100 | 4/0 | 1/3 :: 1.53 1010.0
35 | 100 | 350 | 1/3 :: 1.75 1390.0
35 | 100 | 500 | 1/3 :: 1.91 1750.0
35 | 100 | 750 | 1/3 :: 2.17 2380.0
35 | 100 | 1000 | 1/3 :: 2.32 2870.0
35 | 133 | 1/0 | full :: 1.53 1010.0
35 | 133 | 4/0 | full :: 1.77 1510.0
35 | 133 | 1/0 | 1/3 :: 1.53 890.0
35 | 133 | 4/0 | 1/3 :: 1.74 1230.0
35 | 133 | 350 | 1/3 :: 1.9 1570.0
35 | 133 | 500 | 1/3 :: 2.06 1950.0
35 | 133 | 750 | 1/3 :: 2.32 2600.0
35 | 133 | 1000 | 1/3 :: 2.47 3110.0
        """,
        {
            "insulation_mil": {0: 175, 21: 260, 42: 420},
            "shield_in": {0: 0.731, 21: 0.98, 42: 2.103},
            "jacket_mil": {0: 50, 21: 50, 42: 80},
            "max_pull_lb": {0: 398, 21: 634, 42: 6000},
            "min_bend_in": {0: 7.7, 21: 9.7, 42: 19.8},
        },
    ),
    Lines(
        "eu_cable_lv_iec60502",
        "IEC 60502-1 and DIN VDE 0276-603 tables of makers (read or from memory, by row)",
        ("type", "cores", "area_mm2"),
        ("od_mm", "kg_per_km"),
        """
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 1.5 :: 12.0 170
Cu/XLPE/PVC/SWA/PVC | 4 | 1.5 :: 16.0 440
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 2.5 :: 13.0 220
Cu/XLPE/PVC/SWA/PVC | 4 | 2.5 :: 17.0 530
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 4.0 :: 14.0 300
Cu/XLPE/PVC/SWA/PVC | 4 | 4.0 :: 18.0 630
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 6.0 :: 15.0 410
Cu/XLPE/PVC/SWA/PVC | 4 | 6.0 :: 19.0 760
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 10.0 :: 17.0 580
Cu/XLPE/PVC/SWA/PVC | 4 | 10.0 :: 22.0 1010
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 16.0 :: 19.0 820
Cu/XLPE/PVC/SWA/PVC | 4 | 16.0 :: 24.0 1450
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 25.0 :: 23.0 1250
Cu/XLPE/PVC/SWA/PVC | 4 | 25.0 :: 29.0 1990
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 35.0 :: 25.0 1650
Cu/XLPE/PVC/SWA/PVC | 4 | 35.0 :: 32.0 2490
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 50.0 :: 29.0 2180
Cu/XLPE/PVC/SWA/PVC | 4 | 50.0 :: 35.0 3260
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 4 | 70.0 :: 34.0 3110
Cu/XLPE/PVC/SWA/PVC | 4 | 70.0 :: 41.0 4470
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 1.5 :: 12.0 160
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 2.5 :: 13.0 200
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 4.0 :: 14.0 260
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 6.0 :: 15.0 330
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 10.0 :: 17.0 480
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 16.0 :: 18.0 660
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 25.0 :: 22.0 1000
Cu/XLPE/PVC unarmored (N2XY, U-1000 R2V class) | 3 | 35.0 :: 24.0 1310
Cu or Al/XLPE/PVC unarmored, single core | 1 | 1.5 :: 5.8 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 2.5 :: 6.2 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 4.0 :: 6.8 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 6.0 :: 7.3 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 10.0 :: 8.3 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 16.0 :: 9.0 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 25.0 :: 10.6 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 35.0 :: 11.8 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 50.0 :: 13.2 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 70.0 :: 15.1 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 95.0 :: 17.0 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 120.0 :: 18.8 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 150.0 :: 20.8 -
Cu or Al/XLPE/PVC unarmored, single core | 1 | 185.0 :: 23.0 -
NYY-J | 3 | 1.5 :: 12.0 -
NYY-J | 3 | 2.5 :: 13.0 -
NYY-J | 5 | 1.5 :: 14.0 -
NYY-J | 5 | 2.5 :: 15.0 -
NYM-J | 3 | 1.5 :: 8.4 -
NYM-J | 5 | 1.5 :: 9.9 -
NYM-J | 7 | 1.5 :: 11.6 -
NYM-J | 3 | 2.5 :: 9.6 -
NYM-J | 5 | 2.5 :: 11.5 -
H07V-R | 1 | 16.0 :: 6.8 -
NYY-J | 4 | 16.0 :: 22.0 1150
NYY-J | 4 | 25.0 :: 27.0 1750
NYY-J | 4 | 35.0 :: 27.0 2000
NYY-J | 4 | 50.0 :: 31.0 2600
NYY-J | 4 | 70.0 :: 34.0 3500
NYY-J | 4 | 95.0 :: 39.0 4700
NYY-J | 4 | 120.0 :: 42.0 5700
NYY-J | 4 | 150.0 :: 46.0 7000
NYY-J | 4 | 185.0 :: 51.0 8700
NYY-J | 4 | 240.0 :: 57.0 11300
NAYY-J | 4 | 50.0 :: 30.0 1300
NAYY-J | 4 | 70.0 :: 33.0 1700
NAYY-J | 4 | 95.0 :: 38.0 2200
NAYY-J | 4 | 120.0 :: 41.0 2600
NAYY-J | 4 | 150.0 :: 45.0 3200
NAYY-J | 4 | 185.0 :: 50.0 3900
NAYY-J | 4 | 240.0 :: 56.0 5000
        """,
        {
            "tol_pct": {52: 10, 60: 10, 68: 10},
        },
    ),
    Lines(
        "eu_cable_lv_bs5467_swa",
        "BS 5467 table of a seller (read)",
        ("cores", "area_mm2"),
        ("od_mm", "kg_per_km"),
        """
2 | 1.5 :: 12.1 302.0
2 | 2.5 :: 13.6 346.0
2 | 4.0 :: 14.7 410.0
2 | 6.0 :: 15.9 499.0
2 | 10.0 :: 18.0 648.0
2 | 16.0 :: 20.4 978.0
2 | 25.0 :: 20.4 1290.0
2 | 35.0 :: 23.3 1500.0
2 | 50.0 :: 25.8 1890.0
2 | 70.0 :: 29.0 2450.0
2 | 95.0 :: 33.1 3300.0
2 | 120.0 :: 36.1 4020.0
2 | 150.0 :: 39.3 4750.0
3 | 1.5 :: 12.6 330.0
3 | 2.5 :: 14.1 390.0
3 | 4.0 :: 15.3 464.0
3 | 6.0 :: 16.6 568.0
3 | 10.0 :: 19.5 866.0
3 | 16.0 :: 21.6 1152.0
3 | 25.0 :: 23.6 1800.0
3 | 35.0 :: 25.7 2230.0
3 | 50.0 :: 28.5 2490.0
3 | 70.0 :: 32.2 3290.0
3 | 95.0 :: 37.0 4440.0
3 | 120.0 :: 40.4 5470.0
3 | 150.0 :: 45.5 6930.0
3 | 185.0 :: 49.8 8350.0
3 | 240.0 :: 55.1 10400.0
3 | 300.0 :: 60.2 12600.0
3 | 400.0 :: 66.6 14600.0
4 | 1.5 :: 13.3 365.0
4 | 2.5 :: 15.0 438.0
4 | 4.0 :: 16.4 532.0
4 | 6.0 :: 18.7 764.0
4 | 10.0 :: 21.1 1013.0
4 | 16.0 :: 23.4 1360.0
4 | 25.0 :: 26.1 2160.0
4 | 35.0 :: 28.6 2690.0
4 | 50.0 :: 32.0 3130.0
4 | 70.0 :: 37.7 4500.0
4 | 95.0 :: 41.7 5600.0
4 | 120.0 :: 47.1 7400.0
4 | 150.0 :: 51.4 8780.0
4 | 185.0 :: 56.6 10630.0
4 | 240.0 :: 63.0 13390.0
4 | 300.0 :: 68.8 16290.0
4 | 400.0 :: 78.1 19800.0
5 | 1.5 :: 14.3 410.0
5 | 2.5 :: 16.1 470.0
5 | 4.0 :: 17.8 710.0
5 | 6.0 :: 20.0 876.0
5 | 10.0 :: 22.9 1165.0
5 | 16.0 :: 26.6 1742.0
5 | 25.0 :: 31.5 2323.0
5 | 35.0 :: 34.8 2932.0
5 | 50.0 :: 40.4 4192.0
        """,
        {
        },
    ),
    Lines(
        "eu_cable_mv_read",
        "BS 6622, IEC 60502-2 and HD 620-10-M tables of makers (read)",
        ("type", "volt_kv", "cores", "area_mm2", "metal"),
        ("od_mm", "kg_per_km"),
        """
BS 6622 AWA | 6.35/11 | 1 | 70.0 | Al :: 29.7 1100
BS 6622 AWA | 6.35/11 | 1 | 95.0 | Al :: 31.4 1300
BS 6622 AWA | 6.35/11 | 1 | 120.0 | Al :: 33.1 1400
BS 6622 AWA | 6.35/11 | 1 | 150.0 | Al :: 35.4 1700
BS 6622 AWA | 6.35/11 | 1 | 185.0 | Al :: 37.2 1900
BS 6622 AWA | 6.35/11 | 1 | 240.0 | Al :: 39.8 2100
BS 6622 AWA | 6.35/11 | 1 | 300.0 | Al :: 42.3 2400
BS 6622 AWA | 6.35/11 | 1 | 400.0 | Al :: 45.2 2800
BS 6622 AWA | 6.35/11 | 1 | 500.0 | Al :: 49.5 3500
BS 6622 AWA | 6.35/11 | 1 | 630.0 | Al :: 53.3 4100
BS 6622 AWA | 3.8/6.6 | 1 | 70.0 | Al :: 27.5 1000
BS 6622 AWA | 3.8/6.6 | 1 | 95.0 | Al :: 29.4 1200
BS 6622 AWA | 3.8/6.6 | 1 | 120.0 | Al :: 30.9 1300
BS 6622 AWA | 3.8/6.6 | 1 | 150.0 | Al :: 32.4 1500
BS 6622 AWA | 3.8/6.6 | 1 | 185.0 | Al :: 35.0 1700
BS 6622 AWA | 3.8/6.6 | 1 | 240.0 | Al :: 37.6 2000
BS 6622 AWA | 3.8/6.6 | 1 | 300.0 | Al :: 40.8 2400
BS 6622 AWA | 3.8/6.6 | 1 | 400.0 | Al :: 44.1 2800
BS 6622 AWA | 3.8/6.6 | 1 | 500.0 | Al :: 49.0 3400
BS 6622 AWA | 3.8/6.6 | 1 | 630.0 | Al :: 53.3 4100
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 50.0 | Cu :: 21.7 900
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 70.0 | Cu :: 23.5 1100
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 95.0 | Cu :: 25.4 1400
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 120.0 | Cu :: 26.9 1700
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 150.0 | Cu :: 28.5 2000
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 185.0 | Cu :: 30.3 2400
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 240.0 | Cu :: 32.9 3000
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 300.0 | Cu :: 35.9 3600
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 400.0 | Cu :: 39.2 4500
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 500.0 | Cu :: 42.8 -
BS 6622 unarmored, copper wire screen | 3.8/6.6 | 1 | 630.0 | Cu :: 46.5 -
BS 6622 SWA | 3.8/6.6 | 3 | 50.0 | Cu :: 48.4 4900
BS 6622 SWA | 3.8/6.6 | 3 | 70.0 | Cu :: 52.4 5800
BS 6622 SWA | 3.8/6.6 | 3 | 95.0 | Cu :: 56.5 6900
BS 6622 SWA | 3.8/6.6 | 3 | 120.0 | Cu :: 60.1 7900
BS 6622 SWA | 3.8/6.6 | 3 | 150.0 | Cu :: 63.1 8900
BS 6622 SWA | 3.8/6.6 | 3 | 185.0 | Cu :: 67.4 10400
BS 6622 SWA | 3.8/6.6 | 3 | 240.0 | Cu :: 73.2 12700
BS 6622 SWA | 3.8/6.6 | 3 | 300.0 | Cu :: 81.3 16000
BS 6622 SWA | 3.8/6.6 | 3 | 400.0 | Cu :: 88.8 19400
BS 6622 SWA | 8.7/15 | 3 | 50.0 | Cu :: 58.8 6100
BS 6622 SWA | 8.7/15 | 3 | 70.0 | Cu :: 62.9 7100
BS 6622 SWA | 8.7/15 | 3 | 95.0 | Cu :: 67.0 8300
BS 6622 SWA | 8.7/15 | 3 | 120.0 | Cu :: 70.6 9400
BS 6622 SWA | 8.7/15 | 3 | 150.0 | Cu :: 73.6 10500
BS 6622 SWA | 8.7/15 | 3 | 185.0 | Cu :: 79.4 12900
BS 6622 SWA | 8.7/15 | 3 | 240.0 | Cu :: 84.7 15200
BS 6622 SWA | 8.7/15 | 3 | 300.0 | Cu :: 90.1 17600
BS 6622 SWA | 8.7/15 | 3 | 400.0 | Cu :: 96.7 20800
BS 6622 AWA | 6.35/11 | 1 | 50.0 | Cu :: 28.5 1200
BS 6622 AWA | 6.35/11 | 1 | 70.0 | Cu :: 30.0 1500
BS 6622 AWA | 6.35/11 | 1 | 95.0 | Cu :: 31.7 1600
BS 6622 AWA | 6.35/11 | 1 | 120.0 | Cu :: 33.9 2100
BS 6622 AWA | 6.35/11 | 1 | 150.0 | Cu :: 35.7 2500
BS 6622 AWA | 6.35/11 | 1 | 185.0 | Cu :: 37.5 2900
BS 6622 AWA | 6.35/11 | 1 | 240.0 | Cu :: 40.0 3600
BS 6622 AWA | 6.35/11 | 1 | 300.0 | Cu :: 43.0 4300
BS 6622 AWA | 6.35/11 | 1 | 400.0 | Cu :: 45.8 5200
BS 6622 AWA | 6.35/11 | 1 | 500.0 | Cu :: 50.5 6500
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 50.0 | Cu :: 35.7 1526
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 70.0 | Cu :: 37.6 1809
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 95.0 | Cu :: 39.4 2123
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 120.0 | Cu :: 40.8 2405
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 150.0 | Cu :: 42.3 2733
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 185.0 | Cu :: 44.7 3216
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 240.0 | Cu :: 46.9 3766
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 300.0 | Cu :: 49.3 4408
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 400.0 | Cu :: 52.3 5473
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 50.0 | Al :: 35.7 1239
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 70.0 | Al :: 37.6 1393
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 95.0 | Al :: 39.4 1555
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 120.0 | Al :: 40.8 1688
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 150.0 | Al :: 42.3 1838
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 185.0 | Al :: 44.7 2082
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 240.0 | Al :: 46.9 2333
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 300.0 | Al :: 49.3 2605
IEC 60502-2 unarmored, PVC, Cu tape + wires | 21/35 | 1 | 400.0 | Al :: 52.3 3057
IEC 60502-2 AWA, PVC | 21/35 | 1 | 50.0 | Cu :: 43.5 2331
IEC 60502-2 AWA, PVC | 21/35 | 1 | 70.0 | Cu :: 46.6 2680
IEC 60502-2 AWA, PVC | 21/35 | 1 | 95.0 | Cu :: 48.4 2981
IEC 60502-2 AWA, PVC | 21/35 | 1 | 120.0 | Cu :: 49.8 3487
IEC 60502-2 AWA, PVC | 21/35 | 1 | 150.0 | Cu :: 51.5 3870
IEC 60502-2 AWA, PVC | 21/35 | 1 | 185.0 | Cu :: 53.5 4420
IEC 60502-2 AWA, PVC | 21/35 | 1 | 240.0 | Cu :: 55.8 4981
IEC 60502-2 AWA, PVC | 21/35 | 1 | 300.0 | Cu :: 58.5 5661
IEC 60502-2 AWA, PVC | 21/35 | 1 | 400.0 | Cu :: 61.7 6865
IEC 60502-2 AWA, PVC | 21/35 | 1 | 50.0 | Al :: 43.5 2116
IEC 60502-2 AWA, PVC | 21/35 | 1 | 70.0 | Al :: 46.6 2325
IEC 60502-2 AWA, PVC | 21/35 | 1 | 95.0 | Al :: 48.4 2482
IEC 60502-2 AWA, PVC | 21/35 | 1 | 120.0 | Al :: 49.8 2867
IEC 60502-2 AWA, PVC | 21/35 | 1 | 150.0 | Al :: 51.5 3055
IEC 60502-2 AWA, PVC | 21/35 | 1 | 185.0 | Al :: 53.5 3370
IEC 60502-2 AWA, PVC | 21/35 | 1 | 240.0 | Al :: 55.8 3676
IEC 60502-2 AWA, PVC | 21/35 | 1 | 300.0 | Al :: 58.5 3971
IEC 60502-2 AWA, PVC | 21/35 | 1 | 400.0 | Al :: 61.7 4550
AXALJ-TT triplex in one PE sheath (HD 620-10-M) | 18/30 | 3 | 50.0 | Al :: 65.0 2570
AXALJ-TT triplex in one PE sheath (HD 620-10-M) | 18/30 | 3 | 95.0 | Al :: 72.5 3410
AXALJ-TT triplex in one PE sheath (HD 620-10-M) | 18/30 | 3 | 150.0 | Al :: 79.0 4230
AXALJ-TT triplex in one PE sheath (HD 620-10-M) | 18/30 | 3 | 240.0 | Al :: 88.5 5530
        """,
        {
            "maker_min_radius_mm": {0: 450, 23: 450, 48: 1500},
            "maker_duct_id_mm": {0: 100, 23: 100, 48: 125},
        },
    ),
    Lines(
        "eu_cable_mv_vde_derived",
        "DIN VDE 0276-620 by construction (derived)",
        ("type", "volt_kv", "area_mm2"),
        ("od_mm", "kg_per_km"),
        """
N2XS2Y / N2XS(F)2Y | 6/10 | 35.0 :: 23.7 840
N2XSY | 6/10 | 35.0 :: 23.7 920
NA2XS2Y / NA2XS(F)2Y | 6/10 | 35.0 :: 23.7 620
NA2XSY | 6/10 | 35.0 :: 23.7 700
N2XS2Y / N2XS(F)2Y | 6/10 | 50.0 :: 24.9 990
N2XSY | 6/10 | 50.0 :: 24.9 1080
NA2XS2Y / NA2XS(F)2Y | 6/10 | 50.0 :: 24.9 680
NA2XSY | 6/10 | 50.0 :: 24.9 770
N2XS2Y / N2XS(F)2Y | 6/10 | 70.0 :: 26.4 1200
N2XSY | 6/10 | 70.0 :: 26.4 1300
NA2XS2Y / NA2XS(F)2Y | 6/10 | 70.0 :: 26.4 770
NA2XSY | 6/10 | 70.0 :: 26.4 860
N2XS2Y / N2XS(F)2Y | 6/10 | 95.0 :: 28.1 1460
N2XSY | 6/10 | 95.0 :: 28.1 1560
NA2XS2Y / NA2XS(F)2Y | 6/10 | 95.0 :: 28.1 870
NA2XSY | 6/10 | 95.0 :: 28.1 980
N2XS2Y / N2XS(F)2Y | 6/10 | 120.0 :: 29.6 1720
N2XSY | 6/10 | 120.0 :: 29.6 1830
NA2XS2Y / NA2XS(F)2Y | 6/10 | 120.0 :: 29.6 970
NA2XSY | 6/10 | 120.0 :: 29.6 1080
N2XS2Y / N2XS(F)2Y | 6/10 | 150.0 :: 30.7 2110
N2XSY | 6/10 | 150.0 :: 30.7 2220
NA2XS2Y / NA2XS(F)2Y | 6/10 | 150.0 :: 30.7 1180
NA2XSY | 6/10 | 150.0 :: 30.7 1290
N2XS2Y / N2XS(F)2Y | 6/10 | 185.0 :: 32.5 2460
N2XSY | 6/10 | 185.0 :: 32.5 2580
NA2XS2Y / NA2XS(F)2Y | 6/10 | 185.0 :: 32.5 1310
NA2XSY | 6/10 | 185.0 :: 32.5 1430
N2XS2Y / N2XS(F)2Y | 6/10 | 240.0 :: 34.9 3000
N2XSY | 6/10 | 240.0 :: 34.9 3130
NA2XS2Y / NA2XS(F)2Y | 6/10 | 240.0 :: 34.9 1510
NA2XSY | 6/10 | 240.0 :: 34.9 1640
N2XS2Y / N2XS(F)2Y | 6/10 | 300.0 :: 37.5 3590
N2XSY | 6/10 | 300.0 :: 37.5 3730
NA2XS2Y / NA2XS(F)2Y | 6/10 | 300.0 :: 37.5 1730
NA2XSY | 6/10 | 300.0 :: 37.5 1870
N2XS2Y / N2XS(F)2Y | 6/10 | 400.0 :: 40.5 4660
N2XSY | 6/10 | 400.0 :: 40.5 4810
NA2XS2Y / NA2XS(F)2Y | 6/10 | 400.0 :: 40.5 2180
NA2XSY | 6/10 | 400.0 :: 40.5 2330
N2XS2Y / N2XS(F)2Y | 6/10 | 500.0 :: 43.4 5610
N2XSY | 6/10 | 500.0 :: 43.4 5770
NA2XS2Y / NA2XS(F)2Y | 6/10 | 500.0 :: 43.4 2510
NA2XSY | 6/10 | 500.0 :: 43.4 2670
N2XS2Y / N2XS(F)2Y | 6/10 | 630.0 :: 47.2 6850
N2XSY | 6/10 | 630.0 :: 47.2 7020
NA2XS2Y / NA2XS(F)2Y | 6/10 | 630.0 :: 47.2 2940
NA2XSY | 6/10 | 630.0 :: 47.2 3120
N2XS2Y / N2XS(F)2Y | 12/20 | 35.0 :: 27.9 980
N2XSY | 12/20 | 35.0 :: 27.9 1080
NA2XS2Y / NA2XS(F)2Y | 12/20 | 35.0 :: 27.9 760
NA2XSY | 12/20 | 35.0 :: 27.9 860
N2XS2Y / N2XS(F)2Y | 12/20 | 50.0 :: 29.1 1150
N2XSY | 12/20 | 50.0 :: 29.1 1250
NA2XS2Y / NA2XS(F)2Y | 12/20 | 50.0 :: 29.1 840
NA2XSY | 12/20 | 50.0 :: 29.1 940
N2XS2Y / N2XS(F)2Y | 12/20 | 70.0 :: 30.6 1370
N2XSY | 12/20 | 70.0 :: 30.6 1480
NA2XS2Y / NA2XS(F)2Y | 12/20 | 70.0 :: 30.6 930
NA2XSY | 12/20 | 70.0 :: 30.6 1040
N2XS2Y / N2XS(F)2Y | 12/20 | 95.0 :: 32.3 1630
N2XSY | 12/20 | 95.0 :: 32.3 1750
NA2XS2Y / NA2XS(F)2Y | 12/20 | 95.0 :: 32.3 1050
NA2XSY | 12/20 | 95.0 :: 32.3 1160
N2XS2Y / N2XS(F)2Y | 12/20 | 120.0 :: 33.8 1900
N2XSY | 12/20 | 120.0 :: 33.8 2020
NA2XS2Y / NA2XS(F)2Y | 12/20 | 120.0 :: 33.8 1150
NA2XSY | 12/20 | 120.0 :: 33.8 1280
N2XS2Y / N2XS(F)2Y | 12/20 | 150.0 :: 34.9 2300
N2XSY | 12/20 | 150.0 :: 34.9 2420
NA2XS2Y / NA2XS(F)2Y | 12/20 | 150.0 :: 34.9 1370
NA2XSY | 12/20 | 150.0 :: 34.9 1490
N2XS2Y / N2XS(F)2Y | 12/20 | 185.0 :: 36.7 2660
N2XSY | 12/20 | 185.0 :: 36.7 2790
NA2XS2Y / NA2XS(F)2Y | 12/20 | 185.0 :: 36.7 1510
NA2XSY | 12/20 | 185.0 :: 36.7 1650
N2XS2Y / N2XS(F)2Y | 12/20 | 240.0 :: 39.1 3210
N2XSY | 12/20 | 240.0 :: 39.1 3360
NA2XS2Y / NA2XS(F)2Y | 12/20 | 240.0 :: 39.1 1730
NA2XSY | 12/20 | 240.0 :: 39.1 1870
N2XS2Y / N2XS(F)2Y | 12/20 | 300.0 :: 41.7 3820
N2XSY | 12/20 | 300.0 :: 41.7 3970
NA2XS2Y / NA2XS(F)2Y | 12/20 | 300.0 :: 41.7 1960
NA2XSY | 12/20 | 300.0 :: 41.7 2110
N2XS2Y / N2XS(F)2Y | 12/20 | 400.0 :: 44.7 4900
N2XSY | 12/20 | 400.0 :: 44.7 5070
NA2XS2Y / NA2XS(F)2Y | 12/20 | 400.0 :: 44.7 2420
NA2XSY | 12/20 | 400.0 :: 44.7 2590
N2XS2Y / N2XS(F)2Y | 12/20 | 500.0 :: 47.6 5870
N2XSY | 12/20 | 500.0 :: 47.6 6050
NA2XS2Y / NA2XS(F)2Y | 12/20 | 500.0 :: 47.6 2770
NA2XSY | 12/20 | 500.0 :: 47.6 2950
N2XS2Y / N2XS(F)2Y | 12/20 | 630.0 :: 51.4 7140
N2XSY | 12/20 | 630.0 :: 51.4 7330
NA2XS2Y / NA2XS(F)2Y | 12/20 | 630.0 :: 51.4 3230
NA2XSY | 12/20 | 630.0 :: 51.4 3420
N2XS2Y / N2XS(F)2Y | 18/30 | 50.0 :: 34.1 1360
N2XSY | 18/30 | 50.0 :: 34.1 1480
NA2XS2Y / NA2XS(F)2Y | 18/30 | 50.0 :: 34.1 1050
NA2XSY | 18/30 | 50.0 :: 34.1 1170
N2XS2Y / N2XS(F)2Y | 18/30 | 70.0 :: 35.6 1590
N2XSY | 18/30 | 70.0 :: 35.6 1720
NA2XS2Y / NA2XS(F)2Y | 18/30 | 70.0 :: 35.6 1160
NA2XSY | 18/30 | 70.0 :: 35.6 1290
N2XS2Y / N2XS(F)2Y | 18/30 | 95.0 :: 37.3 1870
N2XSY | 18/30 | 95.0 :: 37.3 2010
NA2XS2Y / NA2XS(F)2Y | 18/30 | 95.0 :: 37.3 1280
NA2XSY | 18/30 | 95.0 :: 37.3 1420
N2XS2Y / N2XS(F)2Y | 18/30 | 120.0 :: 38.8 2150
N2XSY | 18/30 | 120.0 :: 38.8 2290
NA2XS2Y / NA2XS(F)2Y | 18/30 | 120.0 :: 38.8 1400
NA2XSY | 18/30 | 120.0 :: 38.8 1540
N2XS2Y / N2XS(F)2Y | 18/30 | 150.0 :: 39.9 2550
N2XSY | 18/30 | 150.0 :: 39.9 2700
NA2XS2Y / NA2XS(F)2Y | 18/30 | 150.0 :: 39.9 1620
NA2XSY | 18/30 | 150.0 :: 39.9 1770
N2XS2Y / N2XS(F)2Y | 18/30 | 185.0 :: 41.7 2930
N2XSY | 18/30 | 185.0 :: 41.7 3080
NA2XS2Y / NA2XS(F)2Y | 18/30 | 185.0 :: 41.7 1780
NA2XSY | 18/30 | 185.0 :: 41.7 1930
N2XS2Y / N2XS(F)2Y | 18/30 | 240.0 :: 44.1 3500
N2XSY | 18/30 | 240.0 :: 44.1 3660
NA2XS2Y / NA2XS(F)2Y | 18/30 | 240.0 :: 44.1 2010
NA2XSY | 18/30 | 240.0 :: 44.1 2180
N2XS2Y / N2XS(F)2Y | 18/30 | 300.0 :: 46.7 4120
N2XSY | 18/30 | 300.0 :: 46.7 4300
NA2XS2Y / NA2XS(F)2Y | 18/30 | 300.0 :: 46.7 2260
NA2XSY | 18/30 | 300.0 :: 46.7 2440
N2XS2Y / N2XS(F)2Y | 18/30 | 400.0 :: 49.7 5230
N2XSY | 18/30 | 400.0 :: 49.7 5420
NA2XS2Y / NA2XS(F)2Y | 18/30 | 400.0 :: 49.7 2750
NA2XSY | 18/30 | 400.0 :: 49.7 2940
N2XS2Y / N2XS(F)2Y | 18/30 | 500.0 :: 52.6 6220
N2XSY | 18/30 | 500.0 :: 52.6 6420
NA2XS2Y / NA2XS(F)2Y | 18/30 | 500.0 :: 52.6 3120
NA2XSY | 18/30 | 500.0 :: 52.6 3320
N2XS2Y / N2XS(F)2Y | 18/30 | 630.0 :: 56.4 7510
N2XSY | 18/30 | 630.0 :: 56.4 7720
NA2XS2Y / NA2XS(F)2Y | 18/30 | 630.0 :: 56.4 3600
NA2XSY | 18/30 | 630.0 :: 56.4 3820
        """,
        {
            "cores": {0: 1, 70: 1, 139: 1},
            "screen_mm2": {0: 16, 70: 25, 139: 35},
        },
    ),
    Lines(
        "eu_duct_pe_smooth",
        "NF EN 12201-2, ISO 4427 (walls read, bores derived)",
        ("sdr", "od_mm"),
        ("id_design_mm",),
        """
11 | 25 :: 19.7
11 | 32 :: 25.2
11 | 40 :: 31.7
11 | 50 :: 39.7
11 | 63 :: 50.0
11 | 75 :: 59.8
11 | 90 :: 71.8
11 | 110 :: 87.8
11 | 125 :: 99.7
11 | 140 :: 111.9
11 | 160 :: 127.7
11 | 180 :: 143.7
11 | 200 :: 159.8
11 | 225 :: 179.7
11 | 250 :: 199.9
17 | 32 :: 27.4
17 | 40 :: 34.5
17 | 50 :: 43.2
17 | 63 :: 54.4
17 | 75 :: 64.9
17 | 90 :: 77.9
17 | 110 :: 95.3
17 | 125 :: 108.5
17 | 140 :: 121.5
17 | 160 :: 138.9
17 | 180 :: 156.3
17 | 200 :: 173.6
17 | 225 :: 195.3
17 | 250 :: 217.2
21 | 50 :: 44.5
21 | 63 :: 56.2
21 | 75 :: 66.9
21 | 90 :: 80.3
21 | 110 :: 98.1
21 | 125 :: 111.6
21 | 140 :: 125.1
21 | 160 :: 142.9
21 | 180 :: 160.9
21 | 200 :: 178.7
21 | 225 :: 201.0
21 | 250 :: 223.6
26 | 50 :: 45.4
26 | 63 :: 57.3
26 | 75 :: 68.4
26 | 90 :: 82.1
26 | 110 :: 100.6
26 | 125 :: 114.2
26 | 140 :: 127.9
26 | 160 :: 146.2
26 | 180 :: 164.6
26 | 200 :: 182.9
26 | 225 :: 205.9
26 | 250 :: 228.7
13.6 | 25 :: 20.4
13.6 | 32 :: 26.5
13.6 | 40 :: 33.2
13.6 | 50 :: 41.7
13.6 | 63 :: 52.5
13.6 | 75 :: 62.5
13.6 | 90 :: 75.1
13.6 | 110 :: 92.0
13.6 | 125 :: 104.6
13.6 | 140 :: 117.1
13.6 | 160 :: 133.8
13.6 | 180 :: 150.5
13.6 | 200 :: 167.5
13.6 | 225 :: 188.3
13.6 | 250 :: 209.3
        """,
        {
            "wall_min_mm": {0: 2.3, 34: 6.0, 67: 18.4},
            "id_max_mm": {0: 20.4, 34: 113.0, 67: 213.2},
        },
    ),
    Lines(
        "eu_duct_other",
        "EN 61386-24, DIN 16875, EN 1401, NF T 54-018, ENA TS 12-24 (mostly from memory)",
        ("system",),
        ("od_mm", "id_mm"),
        """
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 40 32.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 50 41.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 63 52.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 75 61.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 90 75.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 110 94.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 125 108.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 140 120.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 160 136.0
PE corrugated twin-wall, EN 61386-24 / EN 50626 (450 N, 750 N) :: 200 175.0
PVC-U cable duct DIN 16875 :: 110 103.6
PVC-U cable duct DIN 16875 :: 125 117.6
PVC-U cable duct DIN 16875 :: 160 150.6
PVC-U EN 1401 SN4 :: 110 103.6
PVC-U EN 1401 SN4 :: 125 118.6
PVC-U EN 1401 SN4 :: 160 152.0
PVC-U EN 1401 SN4 :: 200 190.2
PVC-U DIN 8062 :: 50 45.2
PVC-U DIN 8062 :: 63 59.2
PVC LST, NF T 54-018 :: 28 25.0
PVC LST, NF T 54-018 :: 45 42.0
PVC LST, NF T 54-018 :: 60 56.6
PVC LST, NF T 54-018 :: 80 75.8
PVC LST, NF T 54-018 :: 100 94.6
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 16 10.7
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 20 14.1
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 25 18.3
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 32 24.3
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 40 31.2
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 50 39.6
EN 61386-22 pliable corrugated PVC/PP, EN 60423 sizes :: 63 50.6
UK ENA TS 12-24 class 1 HV twin-wall :: - 100.0
UK ENA TS 12-24 class 1 HV twin-wall :: - 125.0
UK ENA TS 12-24 class 1 HV twin-wall :: - 150.0
UK road crossing duct, network operator, twin-wall HDPE :: - 125.0
UK steel pipe in concrete or through a void, EN 10255 medium, network operator :: - 150.0
NO service duct for cable up to 95 mm2 :: - -
UK ENA TS 12-24 twin-wall :: 110 94.0
UK ENA TS 12-24 twin-wall :: 160 137.0
EN 61386-24 twin-wall 45 and 90 deg bends :: - -
        """,
        {
            "id_low_mm": {0: 30, 5: 92, 9: 170},
            "id_high_mm": {0: 32, 5: 95, 9: 177},
            "wall_mm": {10: 3.2, 14: 3.2, 18: 1.9},
            "min_diameter_mm": {36: 110},
        },
    ),
    Lines(
        "eu_duct_bend_radius",
        "Makers' pages and operators' rules (read by row)",
        ("cite", "material", "temp_c", "sdr"),
        ("min_radius_over_od",),
        """
technical page of a pipe maker | PE 80, PE 100 | 20 :: 20
technical page of a pipe maker | PE 80, PE 100 | 10 :: 35
technical page of a pipe maker | PE 80, PE 100 | 0 :: 50
technical page of a pipe maker | PE 80, PE 100 | 20 :: 30
technical page of a pipe maker | PE 80, PE 100 | 10 :: 50
technical page of a pipe maker | PE 80, PE 100 | 0 :: 75
technical page of a pipe maker | PE | 20 | 41 :: 50
technical page of a pipe maker | PE | 20 | 33 :: 40
technical page of a pipe maker | PE | 20 | 26 :: 30
technical page of a pipe maker | PE | 20 | 17.6 :: 20
technical page of a pipe maker | PE | 20 | 11 :: 20
technical page of a pipe maker | PE | 20 | 7.4 :: 20
technical page of a pipe maker | PE :: -
engineering handbook page on bending PE pipe | PE during installation :: 30
engineering handbook page on bending PE pipe | PE under pressure, long term :: 60
duct maker's guide, TPC duct to NF EN 61386-24 | corrugated PE duct in place :: -
Italian operator guide to MT/BT ducts | MT and BT duct :: -
Norwegian network operator | rigid or twin-wall, SN8, red, smooth inside :: -
IEC 61386-21:2021 10.4.101.2 | rigid bendable conduit, test :: -
        """,
        {
            "radius_over_cable_od": {15: 20},
            "min_radius_mm": {16: 1500, 17: 2000},
            "min_radius_over_size": {18: 6},
        },
    ),
    Lines(
        "us_rope_strength",
        "Rope makers' tables, API 9A, UFC 4-159-03 (read; aramid estimated)",
        ("kind", "dia"),
        ("dia_in", "lb_per_100ft", "avg_break_lb", "min_break_lb"),
        """
polyester double braid | 1/4 :: 0.25 2.2 2440 2196
polyester double braid | 5/16 :: 0.3125 3.5 3740 3366
polyester double braid | 3/8 :: 0.375 5.0 4990 4491
polyester double braid | 7/16 :: 0.4375 6.3 7270 6543
polyester double braid | 1/2 :: 0.5 7.9 10000 9000
polyester double braid | 9/16 :: 0.5625 10.0 12450 11205
polyester double braid | 5/8 :: 0.625 13.0 15180 13662
polyester double braid | 3/4 :: 0.75 16.4 18900 17010
polyester double braid | 7/8 :: 0.875 27.1 31050 27945
polyester double braid | 1 :: 1 36.6 40320 36288
polyester double braid | 1-1/8 :: 1.125 43.5 52360 47124
polyester double braid | 1-1/4 :: 1.25 54.0 54600 49140
polyester double braid | 1-1/2 :: 1.5 69.2 67670 60903
polyester double braid | 1-3/4 :: 1.75 103.0 96000 86400
polyester double braid | 2 :: 2 132.0 125240 112716
polyester 3- or 8-strand | 3/16 :: 0.1875 1.1 - 765
polyester 3- or 8-strand | 1/4 :: 0.25 2.0 - 1315
polyester 3- or 8-strand | 5/16 :: 0.3125 3.1 - 2050
polyester 3- or 8-strand | 3/8 :: 0.375 4.4 - 2900
polyester 3- or 8-strand | 7/16 :: 0.4375 5.9 - 3915
polyester 3- or 8-strand | 1/2 :: 0.5 7.7 - 5085
polyester 3- or 8-strand | 9/16 :: 0.5625 9.8 - 6435
polyester 3- or 8-strand | 5/8 :: 0.625 12.0 - 7825
polyester 3- or 8-strand | 3/4 :: 0.75 17.2 - 11200
polyester 3- or 8-strand | 7/8 :: 0.875 23.4 - 15225
polyester 3- or 8-strand | 1 :: 1 30.4 - 19775
wire rope 6x19 fiber core IPS bright | 1/4 :: 0.25 11.0 - 5480
wire rope 6x19 fiber core IPS bright | 5/16 :: 0.3125 16.0 - 8520
wire rope 6x19 fiber core IPS bright | 3/8 :: 0.375 24.0 - 12200
wire rope 6x19 fiber core IPS bright | 7/16 :: 0.4375 32.0 - 16540
wire rope 6x19 fiber core IPS bright | 1/2 :: 0.5 42.0 - 21400
wire rope 6x19 fiber core IPS bright | 9/16 :: 0.5625 53.0 - 27000
wire rope 6x19 fiber core IPS bright | 5/8 :: 0.625 66.0 - 33400
wire rope 6x19 fiber core IPS bright | 3/4 :: 0.75 95.0 - 47600
wire rope 6x19 fiber core IPS bright | 7/8 :: 0.875 129.0 - 64400
wire rope 6x19 fiber core IPS bright | 1 :: 1 168.0 - 83600
wire rope 6x7 fiber core | 1/4 :: 0.25 9.0 - 5280
wire rope 6x7 fiber core | 5/16 :: 0.3125 15.0 - 8200
wire rope 6x7 fiber core | 3/8 :: 0.375 21.0 - 11720
wire rope 6x7 fiber core | 7/16 :: 0.4375 29.0 - 15860
wire rope 6x7 fiber core | 1/2 :: 0.5 37.0 - 20600
wire rope 6x7 fiber core | 9/16 :: 0.5625 47.0 - 26000
wire rope 6x7 fiber core | 5/8 :: 0.625 58.0 - 31800
wire rope 6x7 fiber core | 3/4 :: 0.75 84.0 - 45400
wire rope 6x7 fiber core | 7/8 :: 0.875 115.0 - 61400
wire rope 6x7 fiber core | 1 :: 1 150.0 - 79400
nylon double braid (not for pulling cable) | 1.0 :: 1.0 - 33600 -
nylon double braid (not for pulling cable) | 1.1 :: 1.1 - 45000 -
nylon double braid (not for pulling cable) | 1.2 :: 1.2 - 52000 -
nylon double braid (not for pulling cable) | 1.3 :: 1.3 - 59000 -
aramid core, polyester sheath | 4 mm :: 0.157 - 665 -
aramid core, polyester sheath | 3 mm :: 0.118 - 357 -
aramid 12-strand single braid | 5/16 :: 0.3125 3.3 12000 -
aramid 12-strand single braid | 3/8 :: 0.375 5.0 17000 -
aramid 12-strand single braid | 1/2 :: 0.5 8.8 29000 -
aramid 12-strand single braid | 5/8 :: 0.625 13.5 43000 -
aramid 12-strand single braid | 3/4 :: 0.75 19.5 60000 -
polyester braid, generic average | 5/16 :: 0.3125 - 3400 -
polyester braid, generic average | 3/8 :: 0.375 - 4800 -
polyester braid, generic average | 1/2 :: 0.5 - 9000 -
polyester braid, generic average | 5/8 :: 0.625 - 15500 -
polyester braid, generic average | 3/4 :: 0.75 - 18000 -
polyester braid, generic average | 1 :: 1 - 32000 -
        """,
        {
            "eip_min_break_lb": {36: 5800, 40: 22600, 45: 87400},
            "circumference_in": {46: 3, 48: 3.75, 49: 4},
            "AE_lb": {46: 118900, 48: 184100, 49: 208800},
            "AE_over_break": {46: 3.54, 48: 3.54, 49: 3.54},
        },
    ),
    Lines(
        "us_reel",
        "NEMA WC 26, cable handbook, makers (read, from memory or estimated, by row)",
        ("id", "kind", "cable", "flange_in"),
        (),
        """
capacity_formula ::
arbor ::
loaded_reel_example ::
payoff ::
back_tension_free_reel ::
back_tension_shaft_model ::
back_tension_practice ::
back_tension_downhill ::
wc26 ::
smallest drum | nonmetallic covered, nonshielded or wire shielded incl. concentric wires, 0-2000 V ::
smallest drum | same, over 2000 V, nonjacketed with concentric wires ::
smallest drum | same, over 2000 V, all others ::
smallest drum | tape shielded ::
smallest drum | lead sheath ::
smallest drum | smooth aluminum sheath, OD <= 1.750 in ::
smallest drum | smooth aluminum sheath, OD > 1.750 in ::
smallest drum | wire armor ::
smallest drum | flat tape armor ::
smallest drum | corrugated metallic sheath ::
smallest drum | interlocked armor ::
smallest drum | assembly of singles without common covering: use circumscribing diameter x factor x ::
smallest drum | cable in coilable nonmetallic duct, duct OD 0-0.50 in ::
smallest drum | cable in coilable nonmetallic duct, duct OD 0.51-1.00 in ::
smallest drum | cable in coilable nonmetallic duct, duct OD 1.01-1.25 in ::
smallest drum | cable in coilable nonmetallic duct, duct OD 1.26-1.50 in ::
smallest drum | cable in coilable nonmetallic duct, duct OD over 1.50 in ::
reel | 30 ::
reel | 50 ::
reel | 48 ::
reel | 24 ::
reel | 30 ::
reel | 36 ::
reel | 42 ::
reel | 50 ::
reel | 58 ::
reel | 66 ::
reel | 72 ::
reel | 78 ::
reel | 84 ::
reel | 90 ::
reel | 96 ::
        """,
        {
            "arbor_in": {1: 3},
            "lb_low": {2: 5000},
            "lb_high": {2: 7000},
            "multiplier": {4: 25},
            "mu_plain": {5: 0.2},
            "mu_bearing": {5: 0.015},
            "min_drum_multiple_of_od": {9: 10, 17: 16, 25: 20},
            "traverse_in": {26: 18, 33: 32, 40: 50},
            "drum_in": {26: 10, 33: 24, 40: 48},
            "net_cable_lb_example": {26: 1200, 27: 4500},
            "tare_lb": {29: 35, 35: 560, 40: 1750},
        },
    ),
    Lines(
        "eu_friction",
        "European friction (from memory or estimated; one sheet read)",
        ("cite", "what", "surface", "mu", "angle_deg"),
        ("mu_low", "mu_high"),
        """
IEC TR 62470:2011 | three methods of measuring cable/duct friction; written for fiber cables; no values :: - -
Heinhold/Stubbe, Power Cables and their Application | cable on rollers :: 0.15 0.25
Heinhold/Stubbe | cable in plastic or cement duct, lubricated :: 0.2 0.4
Heinhold/Stubbe | cable in concrete duct, dry :: 0.4 0.6
installation sheet of a Canadian cable maker | worked bend factors printed for :: - -
PE sheath in PE duct, lubricated :: 0.1 0.2
PE sheath in PE duct, dry :: 0.25 0.4
PVC sheath in PE or PVC duct, lubricated :: 0.15 0.3
PVC sheath in PE or PVC duct, dry :: 0.35 0.6
PE or PVC sheath in steel pipe, lubricated :: 0.2 0.35
PE or PVC sheath in concrete duct, lubricated :: 0.25 0.45
check of exp(mu*angle) | 0.25 | 30 :: - -
check of exp(mu*angle) | 0.25 | 45 :: - -
check of exp(mu*angle) | 0.25 | 60 :: - -
check of exp(mu*angle) | 0.25 | 90 :: - -
check of exp(mu*angle) | 0.3 | 30 :: - -
check of exp(mu*angle) | 0.3 | 45 :: - -
check of exp(mu*angle) | 0.3 | 60 :: - -
check of exp(mu*angle) | 0.3 | 90 :: - -
check of exp(mu*angle) | 0.4 | 30 :: - -
check of exp(mu*angle) | 0.4 | 45 :: - -
check of exp(mu*angle) | 0.4 | 60 :: - -
check of exp(mu*angle) | 0.4 | 90 :: - -
        """,
        {
            "mu_values": {4: [0.25, 0.3, 0.4]},
            "factor": {11: 1.14, 17: 1.37, 22: 1.87},
        },
    ),
    Lines(
        "nec_ch9_t5_1250_2000",
        "NFPA 70-2020 Chapter 9 Table 5 as keyed into a public library (read)",
        ("type", "size"),
        (),
        """
XHH/XHHW/XHHW-2 | 1250 ::
XHH/XHHW/XHHW-2 | 1500 ::
XHH/XHHW/XHHW-2 | 1750 ::
XHH/XHHW/XHHW-2 | 2000 ::
RHH/RHW/RHW-2 with outer covering | 1250 ::
RHH/RHW/RHW-2 with outer covering | 1500 ::
RHH/RHW/RHW-2 with outer covering | 1750 ::
RHH/RHW/RHW-2 with outer covering | 2000 ::
TW/THW/THHW/THW-2, and RHH*/RHW*/RHW-2* without outer covering | 1250 ::
TW/THW/THHW/THW-2, and RHH*/RHW*/RHW-2* without outer covering | 1500 ::
TW/THW/THHW/THW-2, and RHH*/RHW*/RHW-2* without outer covering | 1750 ::
TW/THW/THHW/THW-2, and RHH*/RHW*/RHW-2* without outer covering | 2000 ::
THHN/THWN/THWN-2 | 1250 ::
compact conductors over 1000 kcmil | 1250 ::
        """,
        {
            "area_in2": {0: 1.718, 6: 3.0357, 11: 2.7818},
            "area_mm2": {0: 1108.4, 6: 1958.5, 11: 1794.7},
            "dia_in": {0: 1.479, 6: 1.966, 11: 1.882},
            "dia_mm": {0: 37.57, 6: 49.94, 11: 47.8},
        },
    ),
    Lines(
        "nec_ch9_t5a_compact",
        "NFPA 70-2020 Chapter 9 Table 5A as keyed into a public library (read)",
        ("size",),
        (),
        """
8 ::
6 ::
4 ::
2 ::
1 ::
1/0 ::
2/0 ::
3/0 ::
4/0 ::
250 ::
300 ::
350 ::
400 ::
500 ::
600 ::
700 ::
750 ::
900 ::
1000 ::
        """,
        {
            "bare_area_in2": {0: 0.0141, 9: 0.2124, 18: 0.8825},
            "bare_dia_in": {0: 0.134, 9: 0.52, 18: 1.06},
            "rhh_rhw_use_area_in2": {0: 0.0531, 9: 0.4015, 18: 1.2968},
            "rhh_rhw_use_dia_in": {0: 0.26, 9: 0.715, 18: 1.285},
            "thw_thhw_area_in2": {0: 0.051, 9: 0.4128, 18: 1.2968},
            "thw_thhw_dia_in": {0: 0.255, 9: 0.725, 18: 1.285},
            "xhhw_area_in2": {0: 0.0394, 9: 0.3421, 18: 1.1882},
            "xhhw_dia_in": {0: 0.224, 9: 0.66, 18: 1.23},
            "thhn_area_in2": {1: 0.0452, 10: 0.4071, 18: 1.237},
            "thhn_dia_in": {1: 0.24, 10: 0.72, 18: 1.255},
        },
    ),
    Lines(
        "nec_ch9_t8_1250_2000",
        "NFPA 70-2020 Chapter 9 Table 8 as keyed into a public library (read)",
        ("size",),
        ("cmil",),
        """
1250 :: 1250000
1500 :: 1500000
1750 :: 1750000
2000 :: 2000000
        """,
        {
            "area_mm2": {0: 633.4, 2: 886.7, 3: 1013.4},
            "strands": {0: 91, 2: 127, 3: 127},
            "strand_in": {0: 0.1172, 2: 0.1174, 3: 0.1255},
            "dia_in": {0: 1.289, 2: 1.526, 3: 1.632},
            "dia_mm": {0: 32.74, 2: 38.76, 3: 41.45},
            "circumscribed_in2": {0: 1.3, 2: 1.83, 3: 2.09},
            "metal_in2": {0: 0.9817, 2: 1.3744, 3: 1.5708},
            "cu_uncoated_ohm_per_kft": {0: 0.0103, 2: 0.00735, 3: 0.00643},
            "cu_coated_ohm_per_kft": {0: 0.0106, 2: 0.00756, 3: 0.00662},
            "al_ohm_per_kft": {0: 0.0169, 2: 0.0121, 3: 0.0106},
            "cu_lb_per_kft": {0: 3859.0, 2: 5403.0, 3: 6175.0},
            "al_lb_per_kft": {0: 1173.0, 2: 1642.0, 3: 1877.0},
        },
    ),
    Lines(
        "eu_winch_practice",
        "VDE-AR-N 4222, HD 604, utilities (read or from memory, by rule)",
        ("id",),
        (),
        """
DE_checklist ::
DE_contractor ::
CENELEC_guide ::
UK_BS_annex ::
DE_record ::
UK_record ::
        """,
        {
        },
    ),
)
# fmt: on
