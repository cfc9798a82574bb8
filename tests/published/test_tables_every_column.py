"""Every column of every table, restated from its publication a second time.

``read`` holds all figures of the columns that a lookup reads, in the order of the file; ``shown``
the first, a middle and the last figure of those that are only listed (``route3d stock``). ``facts``
are loose figures of the file. What was read and what is from memory stands in ``source``; status
and citation of each row stand in the file itself, and the other files of this folder test lookups.
The ``eu_`` and ``us_`` tables are restated from the collected reference tables, not from print;
so are the stock tables, of which ``tests/support/stock_tables.py`` holds a line for each row.

A new table, or a new column of one, fails ``test_no_column_is_left_out`` until it is restated here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from route3d.standards.tables import Row, load, table_names
from tests.support.published import printed
from tests.support.stock_tables import STOCK_TABLES, Lines

INF = math.inf
Figure = float | str | tuple[float, ...] | None


@dataclass(frozen=True)
class Restated:
    """One table: ``rows`` by their ``keys``, joined by a bar; None where a row has no figure."""

    table: str
    source: str
    keys: tuple[str, ...]
    rows: tuple[str, ...]
    read: Mapping[str, tuple[Figure, ...]]
    shown: Mapping[str, Mapping[int, Figure]]
    facts: Mapping[str, float] = field(default_factory=dict)


# fmt: off
TABLES = (
    Restated(
        "astm_d1785_pvc",
        (
            "ASTM D1785, Schedules 40 and 80 (read at a pump standards body's pipe table; the 5"
            " in wall in a maker's sheet)"
        ),
        ("nominal",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6", "8",
        ),
        read={
        },
        shown={
            "od_in": {0: 0.84, 6: 2.875, 12: 8.625},
            "wall40_in": {0: 0.109, 6: 0.203, 12: 0.322},
            "wall80_in": {0: 0.147, 6: 0.276, 12: 0.5},
            "avg_id40_in": {0: 0.602, 6: 2.445, 12: 7.942},
            "avg_id80_in": {0: 0.526, 6: 2.29, 12: 7.565},
        },
    ),
    Restated(
        "astm_f2160_hdpe",
        (
            "ASTM F2160-22a, NEMA TC 7, UL 651A (read in makers' sheets; some walls and bores "
            "derived)"
        ),
        ("wall_type", "nominal"),
        rows=(
            "SDR13.5 | 3/4", "SDR13.5 | 1", "SDR13.5 | 1-1/4", "SDR13.5 | 1-1/2", "SDR13.5 | 2",
            "SDR13.5 | 2-1/2", "SDR13.5 | 3", "SDR13.5 | 4", "SDR7 | 1", "SDR7 | 1-1/4",
            "SDR7 | 1-1/2", "SDR7 | 2", "SDR7 | 3", "SDR7 | 4", "SDR9 | 1", "SDR9 | 1-1/4",
            "SDR9 | 1-1/2", "SDR9 | 2", "SDR9 | 3", "SDR9 | 4", "SDR11 | 1", "SDR11 | 1-1/4",
            "SDR11 | 1-1/2", "SDR11 | 2", "SDR11 | 3", "SDR11 | 4", "SDR11 | 5", "SDR11 | 6",
            "SDR13.5 | 5", "SDR13.5 | 6", "SDR15.5 | 3/4", "SCH40 | 3/4", "SCH40 | 1",
            "SCH40 | 1-1/4", "SCH40 | 1-1/2", "SCH40 | 2", "SCH40 | 2-1/2", "SCH40 | 3",
            "SCH40 | 4", "SCH40 | 5", "SCH40 | 6", "SCH80 | 3/4", "SCH80 | 1", "SCH80 | 1-1/4",
            "SCH80 | 1-1/2", "SCH80 | 2", "SCH80 | 2-1/2", "SCH80 | 3", "SCH80 | 4", "SCH80 | 5",
            "SCH80 | 6",
        ),
        read={
            "id_in": (
                0.874, 1.101, 1.394, 1.598, 2.002, 2.423, 2.951, 3.794, 0.939, 1.186, 1.358,
                1.697, 2.5, 3.214, 1.023, 1.292, 1.478, 1.847, 2.722, 3.5, 1.056, 1.338, 1.534,
                1.917, 2.825, 3.633, 4.491, 5.348, 4.689, 5.585, 0.894, 0.804, 1.03, 1.36, 1.59,
                2.047, 2.445, 3.042, 3.998, 5.016, 6.031, 0.722, 0.936, 1.255, 1.476, 1.913, 2.29,
                2.864, 3.786, 4.768, 5.709,
            ),
            "min_wall_in": (
                0.078, 0.097, 0.123, 0.141, 0.176, 0.213, 0.259, 0.333, 0.188, 0.237, 0.271,
                0.339, 0.5, 0.643, 0.146, 0.184, 0.211, 0.264, 0.389, 0.5, 0.12, 0.151, 0.173,
                0.216, 0.318, 0.409, 0.506, 0.602, 0.412, 0.491, 0.068, 0.113, 0.133, 0.14, 0.145,
                0.154, 0.203, 0.216, 0.237, 0.258, 0.28, 0.154, 0.179, 0.191, 0.2, 0.218, 0.276,
                0.3, 0.337, 0.375, 0.432,
            ),
            "od_in": (
                1.05, 1.315, 1.66, 1.9, 2.375, 2.875, 3.5, 4.5, 1.315, 1.66, 1.9, 2.375, 3.5, 4.5,
                1.315, 1.66, 1.9, 2.375, 3.5, 4.5, 1.315, 1.66, 1.9, 2.375, 3.5, 4.5, 5.563,
                6.625, 5.563, 6.625, 1.05, 1.05, 1.315, 1.66, 1.9, 2.375, 2.875, 3.5, 4.5, 5.563,
                6.625, 1.05, 1.315, 1.66, 1.9, 2.375, 2.875, 3.5, 4.5, 5.563, 6.625,
            ),
        },
        shown={
            "min_bend_radius_in": {0: 12, 4: 26, 7: 50},
            "max_pull_lb": {0: 505, 4: 2585, 7: 9265},
            "lb_per_kft": {0: 111, 37: 973, 50: 3669},
        },
        facts={
            "cold_bend_factor_od.DR_le_9": 20,
            "cold_bend_factor_od.DR_11_13_5": 25,
            "cold_bend_factor_od.DR_17_21": 27,
            "cold_bend_factor_od.DR_26": 34,
            "cold_bend_factor_od.DR_32_5": 42,
            "cold_bend_factor_od.DR_41": 52,
            "cold_bend_factor_od.fitting_in_bend": 100,
        },
    ),
    Restated(
        "attachment_limits",
        (
            "Pulling devices, each by its own source (read; pulling eyes from memory, low "
            "confidence)"
        ),
        ("id", "cable"),
        rows=(
            "device", "basket_grip", "grip_lead", "grip_lead_SI", "grip_metal_sheath",
            "grip_plastic_sheath", "grip_plastic_sheath_gulf", "grip_length", "tensile_armour",
            "eye_single", "eye_multi", "2-1/C #8 solid", "3-1/C #8", "4-1/C #8",
            "2-1/C #6 stranded", "3-1/C #6", "4-1/C #6", "1-2/C #8", "1-3/C #8", "1-4/C #8",
            "1-2/C #6", "1-3/C #6", "1-4/C #6",
        ),
        read={
            "value": (
                10000, 1000, 1500, 10.342, 4.45, 10, 0.7, 500, 9, 5000, 6000, None, None, None,
                None, None, None, None, None, None, None, None, None,
            ),
            "unit": (
                "lbf", "lbf", "psi", "N/mm2", "kN", "MPa", "kgf/mm2", "mm", "N/mm2", "lbf", "lbf",
                None, None, None, None, None, None, None, None, None, None, None, None,
            ),
        },
        shown={
            "max_pull_lbf": {11: 275, 17: 305, 22: 880},
        },
    ),
    Restated(
        "bending_geometry",
        "Hand benders' charts of offsets (read); exact columns derived by plane trigonometry",
        ("deg",),
        rows=(
            "10", "15", "22.5", "30", "45", "60",
        ),
        read={
            "csc_exact": (
                5.7588, 3.8637, 2.6131, 2, 1.4142, 1.1547,
            ),
            "multiplier_chart": (
                6, 3.9, 2.6, 2, 1.4, 1.2,
            ),
            "shrink_chart_per_in": (
                0.0625, 0.125, 0.1875, 0.25, 0.375, 0.5,
            ),
            "shrink_exact_per_in": (
                0.0875, 0.1317, 0.1989, 0.2679, 0.4142, 0.5774,
            ),
        },
        shown={
        },
    ),
    Restated(
        "bs7671_osg_factors",
        "IET On-Site Guide to BS 7671, appendix on cable capacities (read in part)",
        ("run_m",),
        rows=(
            "1.0", "1.5",
        ),
        read={
        },
        shown={
            "b1_16": {0: 188, 1: 182},
            "b1_20": {0: 303, 1: 294},
            "b1_25": {0: 543},
            "b1_32": {0: 947},
            "b2_16": {0: 177},
            "b2_20": {0: 286},
            "b2_25": {0: 514},
            "b2_32": {0: 900},
            "b3_16": {0: 158},
            "b3_20": {0: 256},
            "b3_25": {0: 463},
            "b3_32": {0: 818},
            "b4_16": {0: 130},
            "b4_20": {0: 213},
            "b4_25": {0: 388},
            "b4_32": {0: 692},
        },
        facts={
            "straight_le_3m_16": 290,
            "straight_le_3m_20": 460,
            "straight_le_3m_25": 800,
            "straight_le_3m_32": 1400,
            "cable_factor_le_3m.1_0": 22,
            "cable_factor_le_3m.1_5_solid": 27,
            "cable_factor_le_3m.2_5_solid": 39,
            "cable_factor_le_3m.1_5_str": 31,
            "cable_factor_le_3m.2_5_str": 43,
            "cable_factor_le_3m.4_0": 58,
            "cable_factor_le_3m.6_0": 88,
            "cable_factor_le_3m.10_0": 146,
            "cable_factor_long.1_0": 16,
            "cable_factor_long.1_5": 22,
            "cable_factor_long.2_5": 30,
            "cable_factor_long.4_0": 43,
            "cable_factor_long.6_0": 58,
            "cable_factor_long.10_0": 105,
            "cable_factor_long.16_0": 145,
            "cable_factor_long.25_0": 217,
        },
    ),
    Restated(
        "cable_15kv_133_cu_tape",
        (
            "ICEA S-93-639, 15 kV, 133 %, maker's specification sheets (read to 350 kcmil; 500 "
            "and 750 kcmil estimates)"
        ),
        ("size",),
        rows=(
            "2", "1", "1/0", "2/0", "3/0", "4/0", "350", "500", "750",
        ),
        read={
        },
        shown={
            "strands": {0: 7, 4: 19, 8: 61},
            "cond_in": {0: 0.282, 4: 0.456, 8: 0.968},
            "ins_in": {0: 0.755, 4: 0.934, 8: 1.494},
            "shield_in": {0: 0.815, 4: 0.994, 8: 1.554},
            "jacket_mil": {0: 80, 4: 80, 8: 110},
            "od_in": {0: 0.995, 4: 1.174, 8: 1.794},
            "lb_per_kft": {0: 640, 4: 1085, 8: 3410},
            "max_pull_lb": {0: 530, 4: 1342, 8: 6000},
            "min_bend_in": {0: 11.9, 4: 14.1, 8: 21.5},
        },
    ),
    Restated(
        "cable_600v_al_use2",
        "Maker's cut sheet, aluminum RHH/RHW-2/USE-2 compact, 2010 (read)",
        ("size",),
        rows=(
            "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0", "250", "300", "350", "400", "500",
            "700", "750", "1000",
        ),
        read={
        },
        shown={
            "od_in": {0: 0.292, 8: 0.713, 15: 1.283},
            "lb_per_kft": {0: 49, 8: 326, 15: 1145},
        },
    ),
    Restated(
        "cable_600v_thhn_cu",
        "UL 83, THHN/THWN-2 copper, maker's sheet (read to 250 kcmil; larger are estimates)",
        ("size",),
        rows=(
            "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250",
            "300", "350", "400", "500", "600", "750", "1000",
        ),
        read={
        },
        shown={
            "od_in": {0: 0.112, 10: 0.529, 20: 1.29},
            "lb_per_kft": {0: 16, 10: 462, 20: 3250},
            "cu_lb_per_kft": {0: 12, 10: 411, 20: 3088},
        },
    ),
    Restated(
        "cable_600v_xhhw2_cu",
        "UL 44, ICEA S-95-658 column B, XHHW-2 copper, maker's sheet (read)",
        ("size",),
        rows=(
            "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250",
            "300", "350", "400", "500", "600", "750",
        ),
        read={
        },
        shown={
            "od_in": {0: 0.14, 10: 0.52, 19: 1.14},
            "lb_per_kft": {0: 18, 10: 450, 19: 2445},
            "cu_lb_per_kft": {0: 13, 10: 411, 19: 2316},
            "insulation_mil": {0: 30, 10: 55, 19: 80},
        },
    ),
    Restated(
        "cable_bend_radius_international",
        "Bending radii by region: Australian maker's sheet (read); UK and Germany from memory",
        ("region", "cable"),
        rows=(
            "AU | LV unarmoured OD <= 25 mm", "AU | LV unarmoured OD > 25 mm",
            "AU | LV screened (copper tape)", "AU | LV steel wire or tape armoured",
            "AU | MV 3.3-33 kV XLPE/EPR PVC jacket", "AU | MV 3.3-33 kV XLPE/EPR HDPE jacket",
            "AU | fire-survival mica tape", "AU | paper lead 1-core 0-11 kV",
            "UK | OSG: thermoplastic/thermosetting non-armoured OD <= 10 mm",
            "UK | OSG: non-armoured 10 < OD <= 25 mm", "UK | OSG: non-armoured OD > 25 mm",
            "UK | OSG: armoured any OD", "UK | OSG: XLPE solid aluminium or shaped copper",
            "UK | OSG: mineral insulated", "UK | BS 6622/7835 MV single-core unarmoured",
            "UK | BS 6622/7835 MV single-core armoured", "UK | BS 6622/7835 MV 3-core unarmoured",
            "UK | BS 6622/7835 MV 3-core armoured", "DE | VDE 0276-603 LV 1-core",
            "DE | VDE 0276-603 LV multicore", "DE | VDE 0276-620 MV XLPE 1-core",
        ),
        read={
            "during_install": (
                6, 9, 18, 18, 18, 25, 12, 20, None, None, None, None, None, None, 20, 15, 15, 12,
                15, 12, 15,
            ),
            "in_situ": (
                4, 6, 12, 12, 12, 15, 8, 15, 3, 4, 6, 6, 8, 6, 15, 12, 12, 10, None, None, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "cable_bend_radius_more",
        "Cable installation guide, and Japanese maker's handling notes (read)",
        ("id",),
        rows=(
            "guide_unshielded_600V", "guide_over_600V_unshielded", "guide_shielded",
            "guide_multi_shielded", "guide_lead", "japan_unshielded_single",
            "japan_unshielded_multi", "japan_shielded_single", "japan_shielded_multi",
            "japan_segmental", "japan_triplex", "japan_triplex_HV",
        ),
        read={
            "factor": (
                None, 8, 12, None, 12, 8, 6, 10, 8, 12, 6, 8,
            ),
            "factor_overall": (
                None, None, None, 7, None, None, None, None, None, None, None, None,
            ),
            "factor_single": (
                None, None, None, 12, None, None, None, None, None, None, None, None,
            ),
            "factors": (
                (4, 5, 6, 5, 6, 7, 0, 7, 8), None, None, None, None, None, None, None, None, None,
                None, None,
            ),
            "insulation_mil": (
                (169, 310), None, None, None, None, None, None, None, None, None, None, None,
            ),
            "od_in": (
                (1, 2), None, None, None, None, None, None, None, None, None, None, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "cable_bend_radius_nec_icea",
        (
            "NFPA 70 (to 2020) 300.34 and 330.24; ICEA S-95-658, S-93-639 training radii (read,"
            " except where the row is marked)"
        ),
        ("id",),
        rows=(
            "nec_mv_nonshielded", "nec_mv_shielded", "nec_mv_multi_shielded",
            "mc_interlocked_corrugated", "mc_smooth_le_0_75in", "mc_smooth_0_75_to_1_5in",
            "mc_smooth_over_1_5in", "mc_shielded", "icea_unshielded", "icea_tape_shield_single",
            "icea_armored_interlocked", "portable_le_5kV", "portable_over_5kV", "okonite_caveat",
            "nec_600V_single",
        ),
        read={
            "factor": (
                8, 12, None, 7, 10, 12, 15, None, None, 12, 7, 6, 8, None, None,
            ),
            "factor_overall": (
                None, None, 7, None, None, None, None, 7, None, None, None, None, None, None,
                None,
            ),
            "factor_single": (
                None, None, 12, None, None, None, None, 12, None, None, None, None, None, None,
                None,
            ),
            "factors": (
                None, None, None, None, None, None, None, None, (4, 5, 6, 5, 6, 7, 0, 7, 8), None,
                None, None, None, None, None,
            ),
            "insulation_in": (
                None, None, None, None, None, None, None, None, (0.156, 0.315, 9.9), None, None,
                None, None, None, None,
            ),
            "od_in": (
                None, None, None, None, None, None, None, None, (1, 2, 99), None, None, None,
                None, None, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "clearance_jam",
        (
            "TES-P-104.05 (2007) p.12 and NFPA 70 Chapter 9 Table 1 note (read); bands on 1.05 "
            "D/d from memory"
        ),
        ("id", "ratio", "risk", "severity_hint"),
        rows=(
            "clearance_low", "clearance_high", "bore_over_bundle", "ovality_factor",
            "D/d | not likely | note", "D/d | likely | caution", "D/d | cannot jam",
            "D/d | can occur, three cables | caution", "1.05 D/d | very small",
            "1.05 D/d | small | note", "1.05 D/d | moderate | caution",
            "1.05 D/d | significant | caution", "1.05 D/d | moderate | caution",
            "1.05 D/d | small | note", "1.05 D/d | very small",
        ),
        read={
            "high": (
                None, None, None, None, 2.8, 3, INF, 3.2, 2.4, 2.5, 2.6, 2.9, 3, 3.2, INF,
            ),
            "low": (
                None, None, None, None, 0, 2.8, 3, 2.8, 0, 2.4, 2.5, 2.6, 2.9, 3, 3.2,
            ),
            "value": (
                6, 25, 1.5, 1.05, None, None, None, None, None, None, None, None, None, None,
                None,
            ),
            "unit": (
                "mm", "mm", "", "", None, None, None, None, None, None, None, None, None, None,
                None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "conductor_counting",
        "Makers' pulling rules and UFC 3-535-01 p.178 (read)",
        ("id",),
        rows=(
            "group_factor_up_to_3", "group_factor_over_3", "two_of_three", "laid_up_three",
            "not_laid_up_three", "common_grip_three", "sum_plus_15_percent", "unequal_sizes",
        ),
        read={
            "count": (
                None, None, 2, 3, 2, 1, None, None,
            ),
            "factor": (
                1, 0.8, None, None, None, None, 1.15, None,
            ),
            "max_conductors": (
                3, None, None, None, None, None, None, None,
            ),
            "of": (
                None, None, 3, 3, 3, 3, None, None,
            ),
        },
        shown={
            "min_conductors": {1: 4},
        },
    ),
    Restated(
        "conductor_stress",
        "Pulling stress, each row by its own source (read; VDE aluminum from memory)",
        ("metal", "practice", "temper", "region"),
        rows=(
            "copper | 0.008 lb/cmil | North America",
            "copper | 0.008 lb/cmil | soft | North America",
            "copper | 70.216 N/mm2 | Saudi Arabia", "copper | 7.16 kgf/mm2 | Gulf",
            "copper | 68.6 N/mm2 | Japan", "copper | 50 N/mm2 | Germany",
            "copper | 50 N/mm2 | Switzerland", "copper | 5 kgf/mm2 | vendor",
            "aluminium | 0.006 lb/cmil | North America",
            "aluminium | 0.006 lb/cmil | three-quarter hard, AA-8000 | North America",
            "aluminium | 0.008 lb/cmil | hard | North America",
            "aluminium | 0.003 lb/cmil | half hard, underground distribution | North America",
            "aluminium | 0.002 lb/cmil | soft solid | North America",
            "aluminium | 39.2 N/mm2 | Japan", "aluminium | 30 N/mm2 | Germany",
            "aluminium | 3 kgf/mm2 | vendor",
        ),
        read={
            "value": (
                0.008, 0.008, 70.216, 7.16, 68.6, 50, 50, 5, 0.006, 0.006, 0.008, 0.003, 0.002,
                39.2, 30, 3,
            ),
            "unit": (
                "lb/cmil", "lb/cmil", "N/mm2", "kgf/mm2", "N/mm2", "N/mm2", "N/mm2", "kgf/mm2",
                "lb/cmil", "lb/cmil", "lb/cmil", "lb/cmil", "lb/cmil", "N/mm2", "N/mm2",
                "kgf/mm2",
            ),
        },
        shown={
            "stress_N_mm2": {0: 70.229, 8: 52.672, 15: 29.42},
        },
    ),
    Restated(
        "conduit_od_wall_weight",
        "UL 797, UL 1242, UL 6, UL 651 (read in trade and makers' tables)",
        ("type", "trade"),
        rows=(
            "EMT | 1/2", "EMT | 3/4", "EMT | 1", "EMT | 1-1/4", "EMT | 1-1/2", "EMT | 2",
            "EMT | 2-1/2", "EMT | 3", "EMT | 3-1/2", "EMT | 4", "IMC | 1/2", "IMC | 3/4",
            "IMC | 1", "IMC | 1-1/4", "IMC | 1-1/2", "IMC | 2", "IMC | 2-1/2", "IMC | 3",
            "IMC | 3-1/2", "IMC | 4", "RMC | 1/2", "RMC | 3/4", "RMC | 1", "RMC | 1-1/4",
            "RMC | 1-1/2", "RMC | 2", "RMC | 2-1/2", "RMC | 3", "RMC | 3-1/2", "RMC | 4",
            "RMC | 5", "RMC | 6", "PVC40 | 1/2", "PVC40 | 3/4", "PVC40 | 1", "PVC40 | 1-1/4",
            "PVC40 | 1-1/2", "PVC40 | 2", "PVC40 | 2-1/2", "PVC40 | 3", "PVC40 | 3-1/2",
            "PVC40 | 4", "PVC40 | 5", "PVC40 | 6", "PVC80 | 1/2", "PVC80 | 3/4", "PVC80 | 1",
            "PVC80 | 1-1/4", "PVC80 | 1-1/2", "PVC80 | 2", "PVC80 | 2-1/2", "PVC80 | 3",
            "PVC80 | 3-1/2", "PVC80 | 4", "PVC80 | 5", "PVC80 | 6",
        ),
        read={
            "od_in": (
                0.706, 0.922, 1.163, 1.51, 1.74, 2.197, 2.875, 3.5, 4, 4.5, 0.815, 1.029, 1.29,
                1.638, 1.883, 2.36, 2.857, 3.476, 3.971, 4.466, 0.84, 1.05, 1.315, 1.66, 1.9,
                2.375, 2.875, 3.5, 4, 4.5, 5.563, 6.625, 0.84, 1.05, 1.315, 1.66, 1.9, 2.375,
                2.875, 3.5, 4, 4.5, 5.563, 6.625, 0.84, 1.05, 1.315, 1.66, 1.9, 2.375, 2.875, 3.5,
                4, 4.5, 5.563, 6.625,
            ),
        },
        shown={
            "md": {0: 16, 28: 91, 55: 155},
            "wall_in": {0: 0.042, 28: 0.215, 55: 0.432},
            "lb_per_100ft": {0: 30, 18: 629, 31: 1745.3},
        },
    ),
    Restated(
        "ductbank",
        "UFGS-16526A, UFGS-16302N and a project specification (read)",
        ("id",),
        rows=(
            "slope", "min_radius_lt_3in", "min_radius_ge_3in", "long_sweep",
            "max_manufactured_curve", "concrete_around", "between_power", "between_power_comm",
            "spacer_max", "cover_encased", "direct_buried_cover", "direct_buried_earth",
            "joint_stagger", "pull_direction", "mandrel", "alt_cover",
        ),
        read={
            "value": (
                4, 18, 36, 25, 30, 3, 2, 4, 4, 18, 24, 3, 6, None, None, None,
            ),
            "unit": (
                "in per 100 ft", "in", "in", "ft", "deg", "in", "in", "in", "ft on centers",
                "in (5 ft below rail)", "in", "in around each; 12 in power to comm", "in", None,
                None, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "elbows_standard",
        (
            "ANSI C80.1, C80.3, UL 651 factory elbows (read in part; rest from memory as NFPA "
            "70 Chapter 9 Table 2)"
        ),
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "radius_in": (
                4, 4.5, 5.75, 7.25, 8.25, 9.5, 10.5, 13, 15, 16, 24, 30,
            ),
        },
        shown={
            "md": {0: 16, 6: 63, 11: 155},
            "radius_mm": {0: 101.6, 6: 266.7, 11: 762},
            "arc90_in": {0: 6.28, 6: 16.49, 11: 47.12},
        },
    ),
    Restated(
        "elbows_sweeps",
        "Makers' special-radius elbows (read or from memory, by row)",
        ("product", "trade"),
        rows=(
            "PVC Sch 40/80 special radius | 2", "PVC Sch 40/80 special radius | 2-1/2..6",
            "RMC large radius | 1..6", "telephone duct 4 in | 4", "fiberglass | 1-1/2..5",
            "UFGS minimum manufactured bend, duct < 3 in",
            "UFGS minimum manufactured bend, duct >= 3 in",
            "UFGS long sweep, change of direction > 5 deg",
        ),
        read={
            "radii_in": (
                (18, 24, 30, 36, 48), (24, 30, 36, 48, 60), (12, 15, 18, 24, 30, 36, 42, 48, 60),
                (18, 24, 36, 48, 60, 72, 108, 120, 150, 180, 240), (36,), (18,), (36,), (300,),
            ),
        },
        shown={
        },
    ),
    Restated(
        "en61386_conduit",
        (
            "EN 60423 outside diameters, EN 61386-21 steel (read); plastic bores EN 61386-22 "
            "and -24 from memory, low confidence"
        ),
        ("system", "size_mm"),
        rows=(
            "steel rigid | 16", "steel rigid | 20", "steel rigid | 25", "steel rigid | 32",
            "steel rigid | 40", "steel rigid | 50", "PVC light min ID | 16",
            "PVC light min ID | 20", "PVC light min ID | 25", "PVC light min ID | 32",
            "PVC light min ID | 40", "PVC light min ID | 50", "PVC light min ID | 63",
            "PVC medium min ID | 16", "PVC medium min ID | 20", "PVC medium min ID | 25",
            "PVC medium min ID | 32", "PVC medium min ID | 40", "PVC medium min ID | 50",
            "buried 61386-24 min ID | 25", "buried 61386-24 min ID | 32",
            "buried 61386-24 min ID | 40", "buried 61386-24 min ID | 50",
            "buried 61386-24 min ID | 63", "buried 61386-24 min ID | 75",
            "buried 61386-24 min ID | 90", "buried 61386-24 min ID | 110",
            "buried 61386-24 min ID | 125", "buried 61386-24 min ID | 140",
            "buried 61386-24 min ID | 160", "buried 61386-24 min ID | 180",
            "buried 61386-24 min ID | 200", "buried 61386-24 min ID | 225",
            "buried 61386-24 min ID | 250",
        ),
        read={
            "id_mm": (
                13.2, 16.8, 21.8, 28.8, 36.8, 46.8, 13.7, 17.4, 22.1, 28.6, 35.8, 45.1, 57, 13,
                16.9, 21.4, 27.8, 35.4, 44.3, 18, 24, 30, 37, 47, 56, 67, 82, 94, 106, 120, 135,
                150, 170, 188,
            ),
        },
        shown={
            "od_min_mm": {0: 15.7, 3: 31.6, 5: 49.5},
            "od_max_mm": {0: 16, 3: 32, 5: 50},
            "wall_mm": {0: 1.4, 3: 1.6, 5: 1.6},
        },
    ),
    Restated(
        "eu_bend_radius_laying",
        "National and makers' laying radii (read or from memory, by row)",
        ("region", "cite", "cable"),
        rows=(
            "DE | DIN VDE 0276-603 (HD 603-3C/-5G), 0.6/1 kV plastic | LV single-core",
            "DE | DIN VDE 0276-603 | LV multicore",
            "DE | DIN VDE 0276-620 part 10C | MV XLPE single-core",
            "DE | DIN VDE 0276-620 part 10C | MV XLPE multicore",
            "DE | DIN VDE 0276-621 | paper, lead sheath, single-core or smooth Al sheath",
            "DE | DIN VDE 0276-621 | paper, lead sheath, multicore",
            "DE | DIN VDE 0276-632 | HV XLPE 64/110 kV, metal sheath",
            (
                "DE | laying instructions of a German cable maker | any of the above, one bend "
                "(e.g. before a termination)"
            ),
            "SE | SS 424 14 16, HD 620-10-M | MV 12 and 36 kV triplex in common PE sheath",
            "SE | SS 424 14 16, HD 620-10-M | MV 36 kV triplex, ploughing",
            "UK | BS 6622 | MV single-core",
            "UK | BS 6622 | MV three-core",
            "UK | BS 6622 | MV three-core armoured 6.6 kV, maker's mm table",
            "UK | BS 6622 | MV three-core armoured 15 kV, maker's mm table",
            "UK | BS 6622 | MV single-core armoured 6.6 and 11 kV, maker's mm table",
            "UK | BS 6622 | MV single-core unarmoured 6.6 kV, maker's mm table",
            "IEC | IEC 60502-2 cables, Chinese maker | MV single-core unarmoured",
            "IEC | IEC 60502-2 cables, Chinese maker | MV single-core armoured",
            "IEC | IEC 60502-2 cables, Chinese maker | MV three-core unarmoured",
            "IEC | IEC 60502-2 cables, Chinese maker | MV three-core armoured",
            "UK | BS 5467 SWA | LV SWA 1.5 to 16 mm2",
            "UK | BS 5467 SWA | LV SWA 25 mm2 and above",
            (
                "FR | NF EN 61386-24 TPC duct for power cable, maker's guide | any cable to be "
                "drawn in: duct bend radius as multiple of the CABLE diameter"
            ),
            "IT | CEI 11-17 | smooth Al sheath",
            "IT | CEI 11-17 | lead sheath",
            "IT | CEI 11-17 | Cu tape or wire screen or armour",
            "IT | CEI 11-17 | no metal covering",
            "ES | UNE-HD 620-10E, RLAT ITC-LAT 06 | MV single-core, during laying",
            (
                "maker (SE) | land cable guide of a maker of high-voltage XLPE cable, rev 5 | "
                "HV XLPE, copper wire screen"
            ),
        ),
        read={
            "during_install": (
                15, 12, 15, 12, 25, 15, 25, None, 12, 8, 15, 12, 12, 15, 15, 15, 20, 15, 15, 12,
                None, None, None, 30, 16, 14, 12, 20, 18,
            ),
            "in_situ": (
                None, None, None, None, None, None, None, None, 8, None, None, None, None, None,
                None, None, 15, 12, 12, 10, 6, 8, None, None, None, None, None, 15, 12,
            ),
            "in_situ_with_former": (
                None, None, None, None, None, None, None, None, None, None, 12, 10, None, None,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None,
            ),
        },
        shown={
            "factor_on_radius": {7: 0.5},
            "duct_radius_over_cable_od": {22: 20},
        },
    ),
    Restated(
        "eu_bs7671_osg_factors_full",
        (
            "IET On-Site Guide to BS 7671, conduit factors (read on two pages; 10 m by the "
            "doubling rule)"
        ),
        ("run_m",),
        rows=(
            "1.0",
            "1.5",
            "2.0",
            "2.5",
            "3.0",
            "3.5",
            "4.0",
            "4.5",
            "5.0",
            "6.0",
            "7.0",
            "8.0",
            "9.0",
            "10.0",
        ),
        read={
            "b0_16": (
                None, None, None, None, None, 179, 177, 174, 171, 167, 162, 158, 154, 150,
            ),
            "b0_20": (
                None, None, None, None, None, 290, 286, 282, 278, 270, 263, 256, 250, 244,
            ),
            "b0_25": (
                None, None, None, None, None, 521, 514, 507, 500, 487, 475, 463, 452, 442,
            ),
            "b0_32": (
                None, None, None, None, None, 911, 900, 889, 878, 857, 837, 818, 800, 783,
            ),
            "b1_16": (
                188, 182, 177, 171, 167, 162, 158, 154, 150, 143, 136, 130, 125, 120,
            ),
            "b1_20": (
                303, 294, 286, 278, 270, 263, 256, 250, 244, 233, 222, 213, 204, 196,
            ),
            "b1_25": (
                543, 528, 514, 500, 487, 475, 463, 452, 442, 422, 404, 388, 373, 358,
            ),
            "b1_32": (
                947, 923, 900, 878, 857, 837, 818, 800, 783, 750, 720, 692, 667, 643,
            ),
            "b2_16": (
                177, 167, 158, 150, 143, 136, 130, 125, 120, 111, 103, 97, 91, 86,
            ),
            "b2_20": (
                286, 270, 256, 244, 233, 222, 213, 204, 196, 182, 169, 159, 149, 141,
            ),
            "b2_25": (
                514, 487, 463, 442, 422, 404, 388, 373, 358, 333, 311, 292, 275, 260,
            ),
            "b2_32": (
                900, 857, 818, 783, 750, 720, 692, 667, 643, 600, 563, 529, 500, 474,
            ),
            "b3_16": (
                158, 143, 130, 120, 111, 103, 97, 91, 86, None, None, None, None, None,
            ),
            "b3_20": (
                256, 233, 213, 196, 182, 169, 159, 149, 141, None, None, None, None, None,
            ),
            "b3_25": (
                463, 422, 388, 358, 333, 311, 292, 275, 260, None, None, None, None, None,
            ),
            "b3_32": (
                818, 750, 692, 643, 600, 563, 529, 500, 474, None, None, None, None, None,
            ),
            "b4_16": (
                130, 111, 97, 86, None, None, None, None, None, None, None, None, None, None,
            ),
            "b4_20": (
                213, 182, 159, 141, None, None, None, None, None, None, None, None, None, None,
            ),
            "b4_25": (
                388, 333, 292, 260, None, None, None, None, None, None, None, None, None, None,
            ),
            "b4_32": (
                692, 600, 529, 474, None, None, None, None, None, None, None, None, None, None,
            ),
        },
        shown={
        },
        facts={
            "max_run_m_3_bends": 5.0,
            "max_run_m_4_bends": 2.5,
        },
    ),
    Restated(
        "eu_laying_temperature",
        "Laying temperatures by sheath, national practice (read or from memory, by row)",
        ("cite", "sheath", "insulation", "what"),
        rows=(
            "DIN VDE 0276-603/-620 via VDE-AR-N 4222 | PVC | PVC",
            "DIN VDE 0276-620 via VDE-AR-N 4222 | PVC | XLPE",
            "DIN VDE 0276-620 via VDE-AR-N 4222 | PE | XLPE",
            "DIN VDE 0276-621 via VDE-AR-N 4222 | (lead) | paper",
            "laying instructions of a German cable maker | H (halogen-free) | XLPE",
            "laying instructions of a German cable maker | PVC | plastic",
            "Austrian cable maker's catalog | PVC | plastic",
            "SS 424 14 16, HD 620-10-M | PE | XLPE",
            "Italian cable maker's sheet ARE4H1R, IEC 60502-2 | PVC | XLPE",
            "CEI 11-17 | PVC | any",
            "CEI 11-17 | PE or PE-insulated | XLPE",
            "BS 5467, BS 6622 guidance | PVC | XLPE",
            (
                "laying instructions of a German cable maker | below the limit: warm the cable "
                "beforehand"
            ),
        ),
        read={
            "min_c": (
                -5, -5, -20, 5, -20, -5, 5, -20, 0, 0, -25, 0, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "eu_pulling_force",
        "Pulling forces, CENELEC and national practice (read or from memory, by row)",
        ("id", "what", "case"),
        rows=(
            "VDE_head_cu",
            "VDE_head_al",
            "VDE_stock_plastic_cu",
            "VDE_stock_plastic_al",
            "VDE_stock_wire_armour",
            "VDE_stock_metal_sheath",
            "VDE_stock_3SL",
            "BE_stock_steel_tape",
            "VDE_three_singles_common_grip",
            "SE_stocking",
            "IT_cu",
            "IT_al",
            "ES_cu",
            "ES_al",
            "UK_practice_cu",
            "UK_practice_al",
            "BS_annex",
            "HD604_guide",
            "NO_cu",
            "NO_al",
            "HV_guide_cu",
            "HV_guide_al",
            "check_KD2_9_30 | worked value F = K*D^2 | wire armour",
            "check_KD2_9_60 | worked value F = K*D^2 | wire armour",
            "check_KD2_3_60 | worked value F = K*D^2 | metal sheath",
            "check_KD2_5_65.0 | worked value F = K*D^2 | SE 3x50 36 kV OD",
            "check_head_1x240_Al | worked value F = n*A*s",
            "check_head_3x240_Al | worked value F = n*A*s",
            "check_head_2x240_Al | worked value F = n*A*s",
            "check_head_1x240_Cu | worked value F = n*A*s",
            "check_head_4x150_Al | worked value F = n*A*s",
            "check_head_4x95_Cu | worked value F = n*A*s",
        ),
        read={
            "n_per_mm2": (
                50, 30, 50, 30, None, None, None, None, None, None, 60, 50, 50, 30, 50, 30, None,
                None, 50, 30, 70, 40, None, None, None, None, None, None, None, None, None, None,
            ),
            "k_n_per_mm2": (
                None, None, None, None, 9, 3, 1, 3, None, 5, None, None, None, None, None, None,
                None, None, None, None, None, None, 9, 9, 3, 5, None, None, None, None, None, None,
            ),
            "count_laid_up": (
                None, None, None, None, None, None, None, None, 3, None, None, None, None, None,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, None,
            ),
            "count_loose": (
                None, None, None, None, None, None, None, None, 2, None, None, None, None, None,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, None,
            ),
        },
        shown={
            "d_mm": {22: 30.0, 24: 60.0, 25: 65.0},
            "f_n": {22: 8100, 27: 21600, 31: 19000},
            "n": {26: 1, 29: 1, 31: 4},
            "area_mm2": {26: 240, 29: 240, 31: 95},
        },
    ),
    Restated(
        "eu_rules_ducts_pits",
        "Duct and pit rules, national practice (read or from memory, by row)",
        ("id",),
        rows=(
            "DE_duct_1_5",
            "DE_steel_pipe",
            "DE_three_singles_bore",
            "UK_maker_ducts",
            "UKPN_prove",
            "IT_duct_bends",
            "NO_duct",
            "FR_TPC",
            "UK_bends_10m",
            "DE_bends_15m",
            "FR_thirds",
            "IT_CEI",
            "DE_EMC_sheath",
        ),
        read={
            "id_over_bundle": (
                1.5, None, None, None, None, None, None, None, None, None, None, 1.3, None,
            ),
            "bore_mm": (
                None, None, None, 100, None, None, None, None, None, None, None, None, None,
            ),
            "bore_larger_mm": (
                None, None, None, 125, None, None, None, None, None, None, None, None, None,
            ),
            "single_core_from_mm2": (
                None, None, None, 50, None, None, None, None, None, None, None, None, None,
            ),
            "single_core_to_mm2": (
                None, None, None, 630, None, None, None, None, None, None, None, None, None,
            ),
            "three_core_to_mm": (
                None, None, None, 60, None, None, None, None, None, None, None, None, None,
            ),
            "radius_m": (
                None, None, None, None, None, 1.5, None, None, None, None, None, None, None,
            ),
            "draw_in_m": (
                None, None, None, None, None, None, None, None, 10, 15, None, None, None,
            ),
        },
        shown={
            "bore_over_d_3": {2: 3.23},
            "bore_over_d_4": {2: 3.62},
            "run_review_m": {6: 70},
            "fill": {10: 0.333},
        },
    ),
    Restated(
        "eu_sidewall_pressure",
        "Sidewall pressure, Europe (from memory or derived; one sheet read)",
        ("cite", "cable"),
        rows=(
            (
                "land cable guide of a maker of high-voltage XLPE cable, rev 5 | HV XLPE, "
                "rollers close together in trench"
            ),
            "land cable guide of a maker of high-voltage XLPE cable, rev 5 | HV XLPE, duct",
            "CIGRE TB 194 (2001), WG 21.17 | HV extruded and SCFF",
            "CIGRE WG B1.61 (tutorial 2023) | HV",
            "installation sheet of a Canadian cable maker | its cables, any bend",
            "IEC 60502-1/-2, HD 603, HD 620 | all",
            "implied by VDE: conductor limit over minimum radius | NA2XS2Y 12/20 1x150",
            "implied by VDE: conductor limit over minimum radius | NA2XS2Y 12/20 1x240",
            "implied by VDE: conductor limit over minimum radius | NA2XS2Y 18/30 1x240",
            "implied by VDE: conductor limit over minimum radius | NA2XS2Y 18/30 1x630",
            "implied by VDE: conductor limit over minimum radius | N2XS2Y 12/20 1x240",
            "implied by VDE: conductor limit over minimum radius | N2XS2Y 12/20 1x500",
            "implied by VDE: conductor limit over minimum radius | NYY 4x95",
            "implied by VDE: conductor limit over minimum radius | NAYY 4x150",
        ),
        read={
            "kn_per_m": (
                10.0, 7.5, None, None, 29.2, None, 8.6, 12.3, 10.9, 22.3, 20.5, 35.0, 40.6, 33.3,
            ),
        },
        shown={
            "f_n": {6: 4500, 10: 12000, 13: 18000},
            "radius_mm": {6: 524, 10: 586, 13: 540},
        },
    ),
    Restated(
        "field_practice",
        "Field practice, each rule by its own source (read, or from memory as the row says)",
        ("id",),
        rows=(
            "rope_safety_factor", "rope_working_load_general", "rope_working_load_maker",
            "rope_working_load_twisted", "rope_working_load_braided", "rope_knot",
            "rope_average_to_minimum", "fibre_elongation_nylon", "fibre_elongation_polyester",
            "fibre_elongation_polypropylene", "fibre_elongation_polyethylene", "pull_by_rope",
            "lubricant", "lubricant_metric", "lubricant_spread", "pulling_speed",
            "reel_back_tension", "restart_factor", "stick_length", "riser_safety_factor",
            "laying_temperature_PVC", "laying_temperature_PE", "deflected_support_share",
        ),
        read={
            "high": (
                None, 0.25, None, 0.14, 0.2, None, None, 0.35, 0.25, 0.25, 0.25, 0.75, None, None,
                None, 50, None, None, None, None, None, None, None,
            ),
            "low": (
                None, 0.15, None, 0.1, 0.15, None, None, 0.25, 0.15, 0.2, 0.15, 0.375, None, None,
                None, 15, None, None, None, None, None, None, None,
            ),
            "value": (
                4, None, 0.2, None, None, 0.5, 0.8, None, None, None, None, None, 0.0015, 0.00073,
                0.5, None, 25, 1.3, 10, 7, -5, -20, 0.2,
            ),
            "unit": (
                "", "", "", "", "", "", "", "", "", "", "", "in", "gal/(ft in)", "l/(m mm)", "",
                "ft/min", "ft", "", "ft", "", "degC", "degC", "",
            ),
        },
        shown={
        },
    ),
    Restated(
        "fill_derivation",
        "Geometry of fill (derived), limits of NFPA 70 Chapter 9 Table 1",
        ("n",),
        rows=(
            "1", "2", "3", "4",
        ),
        read={
        },
        shown={
            "limit": {0: 0.53, 2: 0.4, 3: 0.4},
            "bundle_circle_over_d": {0: 1, 2: 2.1547, 3: 2.4142},
            "packing": {0: 1, 2: 0.6462, 3: 0.6863},
            "D_over_d_at_limit": {0: 1.3736, 2: 2.7386, 3: 3.1623},
            "bundle_circle_over_D_at_limit": {0: 0.728, 2: 0.7868, 3: 0.7634},
            "envelope_area_fraction": {0: 0.53, 2: 0.619, 3: 0.5828},
        },
    ),
    Restated(
        "fill_rules_international",
        "CSA C22.1 12-910 and others outside NFPA 70 (read or from memory, by row)",
        ("id",),
        rows=(
            "CSA_C22_1", "UK_space_factor", "UK_factor_method", "UK_bends", "ES_ITC_BT_21",
            "IT_CEI_64_8", "FR_NF_C_15_100", "AU_AS_NZS_3000", "DE_practice",
        ),
        read={
            "fill_any": (None, 0.45, None, None, None, None, 0.333, None, None),
        },
        shown={
            "fill": {0: (0.53, 0.31, 0.4), 4: (0.4, 0.333, 0.25), 7: (0.5, 0.33, 0.4)},
            "bore_over_cable_area": {4: (2.5, 3, 4)},
            "id_over_bundle": {5: (1.3, 1.5)},
        },
    ),
    Restated(
        "friction",
        "Friction, each row by its own source (read, or from memory as the row says)",
        ("jacket", "conduit", "lubrication", "cite"),
        rows=(
            "PE | rollers | not stated | Table 05-03 p.8", "PE | duct | dry | Table 05-03 p.8",
            "PE | duct | lubricated | Table 05-03 p.8",
            "PVC | rollers | not stated | Table 05-03 p.8", "PVC | duct | dry | Table 05-03 p.8",
            "PVC | duct | lubricated | Table 05-03 p.8",
            "PE | asbestos cement | not stated | p.76 and p.106",
            "PVC | asbestos cement | not stated | p.76 and p.106",
            "neoprene | asbestos cement | not stated | p.76 and p.106",
            "PE | PVC | not stated | p.76 and p.106", "PVC | PVC | not stated | p.76 and p.106",
            "neoprene | PVC | not stated | p.76 and p.106",
            "PE | metal | not stated | p.76 and p.106",
            "PVC | metal | not stated | p.76 and p.106",
            "neoprene | metal | not stated | p.76 and p.106",
            "any | duct | not stated | 12-4 p.178", "any | duct | not stated | 12-4 p.178",
            "any | rollers | not stated | laying notes p.147",
            "any | duct | not stated | laying notes p.147",
            "any | duct | not stated | f usually 0.5", "any | duct | not stated | p.68",
            "PE, XLPE | PVC | lubricated | polyolefin jacket in PVC",
            "PE, XLPE | PVC | dry | polyolefin jacket in PVC, bare",
            "PE, XLPE | PVC | lubricated | conservative value, adequately lubricated",
            "PVC, nylon | metal | lubricated | adequate lubrication",
            "PVC, nylon | PVC | lubricated | adequate lubrication",
            "PVC, nylon | fibre | lubricated | adequate lubrication",
            "PVC, nylon | asbestos cement | lubricated | adequate lubrication",
            "PE, XLPE | metal | lubricated | adequate lubrication",
            "PE, XLPE | PVC | lubricated | adequate lubrication",
            "PE, XLPE | fibre | lubricated | adequate lubrication",
            "PE, XLPE | asbestos cement | lubricated | adequate lubrication",
            "CSPE, CPE | metal | lubricated | adequate lubrication",
            "CSPE, CPE | PVC | lubricated | adequate lubrication",
            "CSPE, CPE | fibre | lubricated | adequate lubrication",
            "CSPE, CPE | asbestos cement | lubricated | adequate lubrication",
            "any | duct | not stated | quoted in Medek and Thue ch. 11",
            "pipe | borehole slurry | not stated | Eq. 7-4",
            "pipe | ground | not stated | Eq. 7-4",
            "pipe | ground on rollers | not stated | Eq. 7-4",
            "drill string | borehole | not stated | summary",
            "rope | capstan | dry | double-braid composite on a clean dry capstan",
        ),
        read={
            "high": (
                0.2, 0.4, 0.25, 0.2, 0.6, 0.35, None, None, None, None, None, None, None, None,
                None, None, None, 0.3, 0.6, None, None, 0.18, None, None, None, None, None, None,
                None, None, None, None, None, None, None, None, 0.75, None, None, None, 0.4, None,
            ),
            "low": (
                0.1, 0.3, 0.15, 0.1, 0.5, 0.25, None, None, None, None, None, None, None, None,
                None, None, None, 0.15, 0.4, None, None, 0.06, None, None, None, None, None, None,
                None, None, None, None, None, None, None, None, 0.4, None, None, None, 0.25, None,
            ),
            "value": (
                None, None, None, None, None, None, 0.56, 0.56, 0.68, 0.34, 0.52, 0.53, 0.36,
                0.55, 0.6, 0.3, 0.4, None, None, 0.5, 0.5, None, 0.65, 0.35, 0.4, 0.35, 0.5, 0.5,
                0.35, 0.35, 0.5, 0.5, 0.5, 0.5, 0.7, 0.6, None, 0.3, 0.5, 0.1, None, 0.125,
            ),
        },
        shown={
        },
    ),
    Restated(
        "nec_ch9_t1_fill",
        "NFPA 70-2017 and -2020 Chapter 9 Table 1 and Notes (read)",
        (),
        rows=(),
        read={
        },
        shown={
        },
        facts={
            "fill_1": 0.53,
            "fill_2": 0.31,
            "fill_over_2": 0.4,
            "nipple_max_in": 24,
            "nipple_max_mm": 600,
            "nipple_fill": 0.6,
            "jam_low": 2.8,
            "jam_high": 3.2,
            "jam_applies_to_n": 3,
            "round_up_decimal": 0.8,
            "multiconductor_counts_as": 1,
        },
    ),
    Restated(
        "nec_ch9_t2_bend_radius",
        "NFPA 70-2011 Chapter 9 Table 2 (read)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "one_shot_in": (
                4, 4.5, 5.75, 7.25, 8.25, 9.5, 10.5, 13, 15, 16, 24, 30,
            ),
            "other_in": (
                4, 5, 6, 8, 10, 12, 15, 18, 21, 24, 30, 36,
            ),
        },
        shown={
            "md": {0: 16, 6: 63, 11: 155},
            "one_shot_mm": {0: 101.6, 6: 266.7, 11: 762},
            "other_mm": {0: 101.6, 6: 381, 11: 914.4},
        },
    ),
    Restated(
        "nec_ch9_t4_emt",
        "NFPA 70-2011 Chapter 9 Table 4, Article 358 (read; areas from 2-1/2 up from memory)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4",
        ),
        read={
            "id_in": (
                0.622, 0.824, 1.049, 1.38, 1.61, 2.067, 2.731, 3.356, 3.834, 4.334,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103,
            ),
        },
        shown={
            "id_mm": {0: 15.8, 5: 52.5, 9: 110.1},
            "area_in2": {0: 0.304, 5: 3.356, 9: 14.753},
            "area_mm2": {0: 196, 5: 2165, 9: 9521},
            "fill53_in2": {0: 0.161, 5: 1.779, 9: 7.819},
            "fill31_in2": {0: 0.094, 5: 1.04, 9: 4.573},
            "fill40_in2": {0: 0.122, 5: 1.342, 9: 5.901},
            "fill60_in2": {0: 0.182, 5: 2.014, 9: 8.852},
        },
    ),
    Restated(
        "nec_ch9_t4_imc",
        (
            "NFPA 70 Chapter 9 Table 4, Article 342 (from memory, cross-checked by outside "
            "diameter less two walls)"
        ),
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4",
        ),
        read={
            "id_in": (
                0.66, 0.864, 1.105, 1.448, 1.683, 2.15, 2.557, 3.176, 3.671, 4.166,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103,
            ),
        },
        shown={
            "id_mm": {0: 16.8, 5: 54.6, 9: 105.4},
            "area_in2": {0: 0.342, 5: 3.63, 9: 13.631},
            "area_mm2": {0: 222, 5: 2341, 9: 8725},
            "fill53_in2": {0: 0.181, 5: 1.924, 9: 7.224},
            "fill31_in2": {0: 0.106, 5: 1.125, 9: 4.226},
            "fill40_in2": {0: 0.137, 5: 1.452, 9: 5.452},
            "fill60_in2": {0: 0.205, 5: 2.178, 9: 8.179},
        },
    ),
    Restated(
        "nec_ch9_t4_pvc40_hdpe",
        "NFPA 70 Chapter 9 Table 4, Articles 352 and 353 (from memory, cross-checked)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "id_in": (
                0.602, 0.804, 1.029, 1.36, 1.59, 2.047, 2.445, 3.042, 3.521, 3.998, 5.016, 6.031,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103, 129, 155,
            ),
        },
        shown={
            "id_mm": {0: 15.3, 6: 62.1, 11: 153.2},
            "area_in2": {0: 0.285, 6: 4.695, 11: 28.567},
            "area_mm2": {0: 184, 6: 3029, 11: 18433},
            "fill53_in2": {0: 0.151, 6: 2.488, 11: 15.141},
            "fill31_in2": {0: 0.088, 6: 1.455, 11: 8.856},
            "fill40_in2": {0: 0.114, 6: 1.878, 11: 11.427},
            "fill60_in2": {0: 0.171, 6: 2.817, 11: 17.14},
        },
    ),
    Restated(
        "nec_ch9_t4_pvc80",
        "NFPA 70 Chapter 9 Table 4, Article 352 Schedule 80 (from memory, cross-checked)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "id_in": (
                0.526, 0.722, 0.936, 1.255, 1.476, 1.913, 2.29, 2.864, 3.326, 3.786, 4.768, 5.709,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103, 129, 155,
            ),
        },
        shown={
            "id_mm": {0: 13.4, 6: 58.2, 11: 145},
            "area_in2": {0: 0.217, 6: 4.119, 11: 25.598},
            "area_mm2": {0: 141, 6: 2660, 11: 16513},
            "fill53_in2": {0: 0.115, 6: 2.183, 11: 13.567},
            "fill31_in2": {0: 0.067, 6: 1.277, 11: 7.935},
            "fill40_in2": {0: 0.087, 6: 1.648, 11: 10.239},
            "fill60_in2": {0: 0.13, 6: 2.471, 11: 15.359},
        },
    ),
    Restated(
        "nec_ch9_t4_pvc_a_eb",
        "NFPA 70 Chapter 9 Table 4, Article 352 Types A and EB (from memory)",
        ("type", "trade"),
        rows=(
            "A | 1/2", "A | 3/4", "A | 1", "A | 1-1/4", "A | 1-1/2", "A | 2", "A | 2-1/2",
            "A | 3", "A | 3-1/2", "A | 4", "EB | 2", "EB | 3", "EB | 3-1/2", "EB | 4", "EB | 5",
            "EB | 6",
        ),
        read={
            "id_in": (
                0.7, 0.91, 1.175, 1.5, 1.72, 2.155, 2.635, 3.23, 3.69, 4.18, 2.221, 3.33, 3.804,
                4.289, 5.316, 6.336,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103, 53, 78, 91, 103, 129, 155,
            ),
        },
        shown={
            "area_in2": {0: 0.385, 8: 10.694, 15: 31.53},
        },
    ),
    Restated(
        "nec_ch9_t4_rmc",
        "NFPA 70 Chapter 9 Table 4, Article 344 (bores read; areas from memory)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "id_in": (
                0.632, 0.836, 1.063, 1.394, 1.624, 2.083, 2.489, 3.09, 3.57, 4.05, 5.073, 6.093,
            ),
            "md": (
                16, 21, 27, 35, 41, 53, 63, 78, 91, 103, 129, 155,
            ),
        },
        shown={
            "id_mm": {0: 16.1, 6: 63.2, 11: 154.8},
            "area_in2": {0: 0.314, 6: 4.866, 11: 29.158},
            "area_mm2": {0: 204, 6: 3137, 11: 18821},
            "fill53_in2": {0: 0.166, 6: 2.579, 11: 15.454},
            "fill31_in2": {0: 0.097, 6: 1.508, 11: 9.039},
            "fill40_in2": {0: 0.126, 6: 1.946, 11: 11.663},
            "fill60_in2": {0: 0.188, 6: 2.92, 11: 17.495},
        },
    ),
    Restated(
        "nec_ch9_t5_thhn_xhhw",
        "NFPA 70-2008 Chapter 9 Table 5 (read)",
        ("size",),
        rows=(
            "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250",
            "300", "350", "400", "500", "600", "700", "750", "800", "900", "1000",
        ),
        read={
        },
        shown={
            "thhn_d_in": {0: 0.111, 12: 0.642, 23: 1.31},
            "thhn_d_mm": {0: 2.82, 12: 16.31, 23: 33.27},
            "thhn_a_in2": {0: 0.0097, 12: 0.3237, 23: 1.3478},
            "thhn_a_mm2": {0: 6.3, 12: 208.8, 23: 869.5},
            "xhhw_d_in": {0: 0.133, 12: 0.638, 23: 1.312},
            "xhhw_d_mm": {0: 3.38, 12: 16.21, 23: 33.32},
            "xhhw_a_in2": {0: 0.0139, 12: 0.3197, 23: 1.3519},
            "xhhw_a_mm2": {0: 9, 12: 206.3, 23: 872.2},
        },
    ),
    Restated(
        "nec_ch9_t8_conductors",
        (
            "NFPA 70 Chapter 9 Table 8 (from memory, cross-checked by the gauge law); ASTM B8 "
            "class B"
        ),
        ("size",),
        rows=(
            "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250",
            "300", "350", "400", "500", "600", "700", "750", "800", "900", "1000",
        ),
        read={
            "cmil": (
                4110, 6530, 10380, 16510, 26240, 41740, 52620, 66360, 83690, 105600, 133100,
                167800, 211600, 250000, 300000, 350000, 400000, 500000, 600000, 700000, 750000,
                800000, 900000, 1000000,
            ),
        },
        shown={
            "area_mm2": {0: 2.08, 12: 107.22, 23: 506.71},
            "strands": {0: 7, 12: 19, 23: 61},
            "dia_in": {0: 0.073, 12: 0.528, 23: 1.152},
            "dia_mm": {0: 1.85, 12: 13.41, 23: 29.26},
            "circumscribed_in2": {0: 0.004, 12: 0.219, 23: 1.042},
            "metal_in2": {0: 0.0032, 12: 0.1662, 23: 0.7854},
            "cu_lb_per_kft": {0: 12.7, 12: 653, 23: 3087},
            "al_lb_per_kft": {0: 3.9, 12: 198.6, 23: 938.4},
        },
    ),
    Restated(
        "nec_rules_bends_boxes",
        "NFPA 70 314.28(A), 314.71, 358.26 (read; 314.71 from memory)",
        ("id",),
        rows=(
            "bends_360", "straight_pull", "angle_u_pull", "same_conductor_entries", "row_rule",
            "opposite_cover", "box_over_6ft", "mv_straight", "mv_angle", "raceway_complete",
            "art_305", "conductor_removal",
        ),
        read={
            "factor": (
                None, 8, 6, 6, None, None, None, None, None, None, None, None,
            ),
            "factor_nonshielded": (
                None, None, None, None, None, None, None, 32, 24, None, None, None,
            ),
            "factor_shielded": (
                None, None, None, None, None, None, None, 48, 36, None, None, None,
            ),
            "value": (
                360, None, None, None, None, None, 6, None, None, None, None, None,
            ),
            "unit": (
                "deg", None, None, None, None, None, "ft", None, None, None, None, None,
            ),
        },
        shown={
        },
    ),
    Restated(
        "nec_t300_19a_vertical",
        "NFPA 70 Table 300.19(A) (read; meters derived)",
        ("size_from", "size_to"),
        rows=(
            "18 | 8", "6 | 1/0", "2/0 | 4/0", "over 4/0 | 350", "over 350 | 500",
            "over 500 | 750", "over 750",
        ),
        read={
            "al_ft": (
                100, 200, 180, 135, 120, 95, 85,
            ),
            "cu_ft": (
                100, 100, 80, 60, 50, 40, 35,
            ),
        },
        shown={
            "al_m": {0: 30.5, 3: 41.1, 6: 25.9},
            "cu_m": {0: 30.5, 3: 18.3, 6: 10.7},
        },
    ),
    Restated(
        "nema_tc6_8_duct",
        "NEMA TC 6 & 8-2013, ASTM F512 (types read; walls from memory, bores are estimates)",
        ("type", "nominal"),
        rows=(
            "EB-20 | 2", "EB-20 | 3", "EB-20 | 4", "EB-20 | 5", "EB-20 | 6", "EB-35 | 2",
            "EB-35 | 3", "EB-35 | 4", "EB-35 | 5", "EB-35 | 6", "DB-60 | 2", "DB-60 | 3",
            "DB-60 | 4", "DB-60 | 5", "DB-60 | 6", "DB-100 | 2", "DB-100 | 3", "DB-100 | 4",
            "DB-100 | 5", "DB-100 | 6", "DB-120 | 2", "DB-120 | 3", "DB-120 | 4", "DB-120 | 5",
            "DB-120 | 6",
        ),
        read={
            "id_est_in": (
                2.235, 3.358, 4.316, 5.337, 6.355, 2.235, 3.328, 4.28, 5.291, 6.301, 2.235, 3.296,
                4.238, 5.239, 6.239, 2.209, 3.26, 4.19, 5.179, 6.169, 2.201, 3.244, 4.172, 5.158,
                6.144,
            ),
            "min_wall_in": (
                0.06, 0.061, 0.082, 0.103, 0.125, 0.06, 0.076, 0.1, 0.126, 0.152, 0.06, 0.092,
                0.121, 0.152, 0.182, 0.073, 0.11, 0.145, 0.181, 0.215, 0.077, 0.118, 0.154, 0.191,
                0.227,
            ),
            "od_in": (
                2.375, 3.5, 4.5, 5.563, 6.625, 2.375, 3.5, 4.5, 5.563, 6.625, 2.375, 3.5, 4.5,
                5.563, 6.625, 2.375, 3.5, 4.5, 5.563, 6.625, 2.375, 3.5, 4.5, 5.563, 6.625,
            ),
        },
        shown={
        },
    ),
    Restated(
        "pvc_field_bend",
        "Maker's PVC bender manual p.9 (read)",
        ("trade",),
        rows=(
            "1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6",
        ),
        read={
            "radius_in": (
                4, 5, 6, 8, 10, 12, 15, 18, 21, 24, 30, 36,
            ),
        },
        shown={
            "bend_length_in": {0: 7, 6: 26, 11: 62},
        },
    ),
    Restated(
        "raceway_support_spacing",
        "NFPA 70 358.30, Table 344.30(B)(2), Table 352.30 (read or from memory, by row)",
        ("type", "trade_from", "trade_to"),
        rows=(
            "EMT | 1/2 | 4", "RMC/IMC | 1/2 | 6",
            "RMC/IMC threaded straight horizontal | 1/2 | 3/4",
            "RMC/IMC threaded straight horizontal | 1 | 1",
            "RMC/IMC threaded straight horizontal | 1-1/4 | 1-1/2",
            "RMC/IMC threaded straight horizontal | 2 | 2-1/2",
            "RMC/IMC threaded straight horizontal | 3 | 6", "PVC | 1/2 | 1", "PVC | 1-1/4 | 2",
            "PVC | 2-1/2 | 3", "PVC | 3-1/2 | 5", "PVC | 6 | 6",
            "RMC industrial vertical riser | 1/2 | 6",
        ),
        read={
            "max_ft": (
                10, 10, 10, 12, 14, 16, 20, 3, 5, 6, 7, 8, 20,
            ),
            "first_ft": (
                3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3,
            ),
        },
        shown={
        },
    ),
    Restated(
        "sidewall_limits",
        (
            "Sidewall pressure, each family by its own source (read; general practice from "
            "memory, low confidence)"
        ),
        ("family",),
        rows=(
            "any", "any, TES", "single or common sheath, Japan", "triplex, Japan",
            "new smooth duct without steps, Japan", "600 V XLPE singles, EC&M", "MV, EC&M",
            "AEIC CG5", "three unjacketed, EPRI", "jacket not tight on the core, EPRI",
            "15 kV low-friction jacket, Southwire",
        ),
        read={
            "value": (
                300, 4.371, 2940, 2450, 4900, 1200, 750, 1200, 750, 1500, 1000,
            ),
            "unit": (
                "lbf/ft", "kN/m", "N/m", "N/m", "N/m", "lbf/ft", "lbf/ft", "lbf/ft", "lbf/ft",
                "lbf/ft", "lbf/ft",
            ),
        },
        shown={
        },
    ),
    Restated(
        "us_bend_radius",
        "US bend multiples, ICEA, NFPA 70, makers (read or from memory, by row)",
        ("id",),
        rows=(
            "icea_nonshielded_1",
            "icea_nonshielded_2",
            "icea_nonshielded_3",
            "icea_nonshielded_4",
            "icea_nonshielded_5",
            "icea_nonshielded_6",
            "icea_nonshielded_7",
            "icea_nonshielded_8",
            "icea_nonshielded_older_steps_1",
            "icea_nonshielded_older_steps_2",
            "icea_nonshielded_older_steps_3",
            "icea_nonshielded_older_steps_4",
            "icea_nonshielded_older_steps_5",
            "icea_nonshielded_older_steps_6",
            "icea_nonshielded_older_steps_7",
            "icea_nonshielded_older_steps_8",
            "over_600v_nonshielded_icea",
            "nec_nonshielded_over_1000v",
            "nec_shielded_or_lead_over_1000v",
            "nec_multi_individually_shielded",
            "tape_shield_single",
            "multi_individually_shielded",
            "lct_shield_general",
            "lct_shield_pvc_jacket",
            "wire_shield_concentric_neutral",
            "flat_strap_neutral",
            "lead_sheath",
            "armour_flat_tape_or_wire",
            "armour_smooth_al_to_0_75",
            "armour_smooth_al_0_76_1_5",
            "armour_smooth_al_over_1_5",
            "armour_interlocked_or_corrugated",
            "armour_interlocked_shielded_cores",
            "armour_corrugated_ul_test",
            "instrumentation_pairs_no_shield",
            "instrumentation_mylar_or_braid",
            "portable_to_5kv",
            "portable_over_5kv",
            "fibre_multimode",
            "fibre_single_mode",
            "fibre_unloaded",
            "fibre_under_tension",
            "fibre_in_power_cable",
            "general_rule_any_cable",
            "pulling_over_sheaves",
            "pulling_dynamic_multiplier",
        ),
        read={
            "factor": (
                4, 5, 6, 5, 6, 7, 7, 8, 4, 5, 6, 5, 6, 7, 7, 8, 8, 8, 12, (12, 7), 12, (12, 7), 12,
                15, 8, 8, 12, 12, 10, 12, 15, 7, 8, 7, 6, 8, 6, 8, 10, 20, 10, 20, 20, 12,
                "max(training radius + OD/2, T/SWBP)", 1.5,
            ),
        },
        shown={
        },
    ),
    Restated(
        "us_install_temperature",
        "US installation temperatures by jacket (read or from memory, by row)",
        ("material", "kind"),
        rows=(
            "thermoplastic (PVC, THHN) | care required below",
            "PVC jacket | minimum installation",
            "PVC jacket | minimum installation",
            "PVC jacket, European maker | minimum laying",
            "PE jacket, European maker | minimum laying",
            "PVC MV-105 jacket (UL) | cold-bend rating",
            "PVC MV-105 jacket (CSA LTDD) | cold bend and impact rating",
            "PVC 3/C MV-105 (CSA LTGG) | cold bend and impact rating",
            "CPE-TP jacket (UL) | cold-bend rating",
            "CPE-TP jacket (CSA LTGG) | cold bend and impact rating",
            "LSZH thermoplastic jacket | cold-bend rating",
            "LSZH thermoset jacket | cold-bend rating",
            "CPE jacket | minimum installation",
            "CSPE, neoprene jacket | minimum installation",
            "LLDPE jacket | minimum installation",
            "XLPE, EPR insulation without PVC | minimum installation",
            "LSZH jacket | minimum installation",
            "THHN (PVC/nylon) | cold-bend rating",
            "telecom copper (PVC) | minimum installation",
            "marked -40 C cable | use such cable when installing colder than",
        ),
        read={
            "temp_c": (
                -10, 4, -10, -5, -20, -35, -25, -40, -35, -40, -25, -40, -35, -20, -40, -40, -10,
                -25, 0, -10,
            ),
        },
        shown={
            "temp_f": {0: 14, 10: -13, 19: 14},
        },
    ),
    Restated(
        "us_rope_rules",
        "Rope rules (read, from memory or estimates, by row)",
        ("id",),
        rows=(
            "elong_break_polyester_fibre",
            "elong_break_nylon_fibre",
            "elong_break_aramid_fibre",
            "elong_break_hmpe_fibre",
            "elastic_polyester_double_braid",
            "elastic_polyester_3_strand",
            "elastic_nylon_double_braid",
            "elastic_aramid_12_strand",
            "elastic_hmpe_12_strand",
            "elastic_wire_rope_6x19_fc",
            "safety_factor_puller",
            "safety_factor_rope_maker_db",
            "safety_factor_cordage_institute",
            "safety_factor_general_fibre",
            "safety_factor_wire_rope",
            "knot_efficiency",
            "splice_efficiency_double_braid",
            "nylon_wet_loss",
            "do_not_use_nylon",
            "polypropylene_melts",
            "polyester_melts",
            "ieee_1185_rope_tables",
            "friction_rope_on_capstan",
            "friction_polyester_rope_on_sheave_steel",
            "friction_rope_on_pvc_dry",
            "friction_rope_on_pvc_lubricated",
            "friction_rope_on_hdpe_dry",
            "friction_rope_on_steel_dry",
            "friction_static_over_dynamic",
            "friction_conduit_pvc_jacket_champion",
            "elbow_burn_through_qualitative",
            "elbow_coop_rule_250ft",
            "elbow_incident_400ft",
            "elbow_steel_wire_rope_claim",
            "elbow_flat_tape",
            "elbow_wear_figure",
            "pull_line_min_ufgs",
        ),
        read={
            "factor": (
                None, None, None, None, None, None, None, None, None, None, 4, 5, None, 12, 5,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, None, None, None, None, None,
            ),
            "factor_low": (
                None, None, None, None, None, None, None, None, None, None, None, None, 5, None,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, None, None, None, None, None, None,
            ),
            "length_ft": (
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, None, None, None, None, None, None, None, None, None, None, None,
                None, None, None, 250, 400, None, None, None, None,
            ),
        },
        shown={
            "percent_low": {0: 14, 2: 3.7, 3: 3.5},
            "percent_high": {0: 25, 2: 3.7, 3: 4.0},
            "at_percent_of_break": {4: (10, 20, 30), 7: (10, 20, 30), 9: (10, 20, 30)},
            "elongation_percent": {4: (1.1, 1.8, 2.7), 7: (0.5, 0.8, 1.1), 9: (0.18, 0.36, 0.54)},
            "factor_high": {12: 12},
            "fraction_low": {15: 0.5, 16: 0.9},
            "fraction_high": {15: 0.8, 16: 1.0},
            "fraction": {17: 0.15},
            "melt_c_low": {19: 150},
            "melt_c_high": {19: 175},
            "melt_c": {20: 255},
            "mu": {22: 0.125},
            "mu_low": {24: 0.25, 26: 0.15, 27: 0.15},
            "mu_high": {24: 0.4, 26: 0.3, 27: 0.35},
            "ratio_low": {28: 1.1},
            "ratio_high": {28: 1.3},
            "fiberglass": {29: 0.38},
            "pvc40": {29: 0.9},
            "pvc80": {29: 0.9},
            "steel": {29: 0.55},
            "pvc_coated_steel": {29: 0.55},
            "last_column": {29: 0.25},
            "bends_deg": {32: 270},
            "lbf": {36: 200},
        },
    ),
    Restated(
        "us_swbp_limits",
        "US sidewall pressure by cable class, makers' sheets (read; older families from memory)",
        ("cable_class",),
        rows=(
            "300 V nonshielded; 300 V and 600 V shielded control and instrumentation",
            "600 V nonshielded control and instrumentation",
            "600 V and 2400 V nonshielded power",
            "5 kV to 35 kV shielded power",
            "interlocked armour, all voltages",
            "continuously corrugated welded (CCW, MC-HL)",
            "600 V 1/C XHHW-2 with PVC jacket",
            "5/8 kV 1/C EPR tape shield (PVC, CPE, LSZH)",
            "15 kV 1/C EPR tape shield, Cu or Al",
            "25 kV and 35 kV EPR tape shield",
            "3/C 5, 15, 25 kV EPR tape shield with ground, PVC or CPE",
            "15 to 35 kV URD TRXLPE or EPR, full and 1/3 concentric neutral, LLDPE",
            "15 to 35 kV LCT shield, LLDPE",
            "3/C 15 kV interlocked aluminium armour",
            "1/C 35 kV interlocked aluminium armour",
            "any, ICEA study",
            "600 V XLPE power, three singles",
            "MV, same article",
            "extruded power cable, AEIC CG5",
            "unjacketed concentric neutral, three-cable pull, EPRI EL-3333",
            "jacket not tight on the core, EPRI EL-3333",
            "extruded MV, encapsulating or tight jacket, EPRI EL-3333 / AEIC CG5",
            "unjacketed concentric neutral, single cable, EPRI",
            "lead sheath, PE jacket, EPRI",
            "lead sheath, unjacketed or paper-lead",
            "instrumentation, single pair",
            "instrumentation, multipair",
            "600 V nonshielded multiconductor control",
            "600 V and 1 kV single conductor, 8 AWG and smaller",
            "600 V and 1 kV single conductor, 6 AWG and larger",
            "5 to 15 kV power cable, older table",
            "25 and 35 kV power cable, older table",
            "600 V multiconductor power, tray cable",
            "5 kV nonshielded power",
        ),
        read={
            "lb_per_ft": (
                500, 500, 1000, 1000, 300, 500, 1000, 1000, 1000, 1000, 1000, 1000, 1000, 1000,
                1000, 300, 1200, 750, 1200, 750, 1500, 2000, 1200, 2000, 400, 300, 500, 500, 300,
                500, 500, 300, 500, 1000,
            ),
        },
        shown={
            "N_per_m": {0: 7297, 17: 10945, 33: 14594},
        },
    ),
)
# fmt: on


def of_lines(one: Lines) -> Restated:
    """A table that is restated line by line."""
    lines = [line.partition("::") for line in one.text.strip().splitlines()]
    rows = [[None if f == "-" else float(f) for f in figures.split()] for _, _, figures in lines]
    read = {column: tuple(row[i] for row in rows) for i, column in enumerate(one.columns)}
    names = tuple(name.strip() for name, _, _ in lines)
    return Restated(one.table, one.source, one.keys, names, read, one.shown)


TABLES += tuple(map(of_lines, STOCK_TABLES))
BY_TABLE = [
    pytest.param(
        one, marks=[pytest.mark.source(one.source), pytest.mark.clause(load(one.table).title)],
        id=one.table,
    )
    for one in TABLES
]  # fmt: skip
# What tells rows apart or speaks of them, and no figure.
WORDS = {"status", "source", "cite", "note", "text", "layout", "risk", "unit", "temper", "region"}


def name(row: Row, keys: tuple[str, ...]) -> str:
    parts = (row.get(key, "") for key in keys)
    texts = (", ".join(map(str, p)) if isinstance(p, list) else str(p) for p in parts)
    return " | ".join(text for text in texts if text)


def facts(table: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for key, value in load(table).facts.items():
        if isinstance(value, dict):
            numbers = {f"{key}.{k}": v for k, v in value.items() if isinstance(v, int | float)}
            found.update(numbers)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            found[key] = value
    return found


@pytest.mark.parametrize("one", BY_TABLE)
def test_figures_as_printed(one: Restated) -> None:
    rows = load(one.table).rows
    named = [name(row, one.keys) for row in rows]
    assert named == list(one.rows)
    if not (one.read or one.shown or one.facts):  # rules in words: their names are what is printed
        assert set(named) == printed(set(one.rows))
    for column, figures in one.read.items():
        ours = dict(zip(_labels(one), (row.get(column) for row in rows), strict=True))
        as_printed = dict(zip(_labels(one), figures, strict=True))
        where = {label: v for label, v in ours.items() if v is not None}
        assert where == printed({k: v for k, v in as_printed.items() if v is not None}, what=column)
    for column, picked in one.shown.items():
        at = {f"{one.rows[i]}": rows[i].get(column) for i in picked}
        assert at == printed({one.rows[i]: v for i, v in picked.items()}, what=column)
    assert facts(one.table).keys() == one.facts.keys()
    if one.facts:
        assert facts(one.table) == printed(one.facts)


def _labels(one: Restated) -> list[str]:
    """Names of the rows, numbered where two are alike."""
    return [
        row if one.rows.count(row) == 1 else f"{row} (row {i + 1})"
        for i, row in enumerate(one.rows)
    ]


def columns_of(one: Restated) -> set[str]:
    """The columns of a table that hold figures, but for those that name its rows."""
    return {
        column
        for row in load(one.table).rows
        for column, value in row.items()
        if column not in one.keys
        and isinstance(value, int | float | list)
        and not isinstance(value, bool)
    }


@pytest.mark.source("Tables of the product")
@pytest.mark.clause("names")
def test_no_column_is_left_out() -> None:
    assert {one.table for one in TABLES} == printed(set(table_names()) - {"sources"})
    for one in TABLES:
        assert columns_of(one) <= {*one.read, *one.shown}, one.table
        assert not {*one.read, *one.shown} & WORDS - {"unit"}
