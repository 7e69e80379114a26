"""The trains of the invented plant that have three years of history, each with its own pace."""

from inspections.demo.lives import Event, Life

PIPE = "Suction line made up after the cleaning of its strainer"
LIVES: dict[str, tuple[Life, ...]] = {
    "Greyfen Works": (
        # Moves faster than a year allows: out of tolerance each time, and brought back.
        Life("BF-21", "mia", 1095, {"BF-21": (-0.145, 0.063, -0.28, 0.14)}, every=305),
        Life("BF-23", "mia", 1080, {"BF-23": (-0.022, 0.012, -0.05, 0.04)}),
        Life("FN-42", "tor", 1060, {"FN-42-1": (0.018, -0.012, 0.05, 0.03), "FN-42-2": (-0.010, 0.016, -0.04, 0.02)}),
        Life("FN-43", "jon", 1042, {"FN-43": (0.030, 0.020, 0.06, -0.05)}),
        Life("TG-01", "mia", 1070, {"TG-01-1": (-0.016, 0.010, -0.04, 0.03), "TG-01-2": (0.020, 0.012, 0.05, 0.02)}),
        Life("CM-81", "jon", 1030, {"CM-81-1": (0.024, -0.018, 0.06, 0.04), "CM-81-2": (-0.012, 0.008, -0.03, 0.02)}),
        # Upright and rigid: read by compass points, left by its run-out.
        Life("CP-71", "jon", 1020, {"CP-71": (0.0, 0.0, 0.0, 0.0)}),
        Life(
            "CP-72", "tor", 1075, {"CP-72": (0.026, -0.014, 0.08, 0.05)},
            events=(
                Event(
                    500, "Dust below the guard: open and look", by="mia",
                    more={
                        "kind": "element", "element": "Legs torn at the root, dust below the guard.", "code": "worn",
                        "went": "evidence", "went_to": "cabinet 2", "torque": "set", "wrench": "W-32",
                        "worn": {"crack": "3", "dust": "3"},
                    },
                ),
            ),
        ),
        Life("CW-13", "jon", 1050, {"CW-13": (0.035, 0.022, 0.05, -0.04)}),
        # Pipe work moved it by more than three years of its own pace.
        Life(
            "CL-15", "rune", 1005, {"CL-15": (0.014, -0.010, 0.04, 0.03)},
            events=(Event(140, PIPE, by="mia", jump=(0.085, -0.150, 0.22, -0.35)),),
        ),
        # Two of its flange screws had turned out.
        Life(
            "VP-62", "mia", 1090, {"VP-62": (-0.020, 0.016, -0.05, 0.04)},
            events=(Event(80, "Noise at speed: look at the coupling", more={"torque": "set", "turned_out": "3, 4"}),),
        ),
        Life("MC-34", "jon", 1015, {"MC-34-1": (0.022, 0.015, 0.06, 0.04), "MC-34-2": (-0.012, 0.010, 0.03, -0.02)}),
        # Nobody has been there for more than a year: overdue.
        Life("DR-35", "tor", 1085, {"DR-35-1": (0.020, -0.015, 0.05, 0.04), "DR-35-2": (0.016, 0.010, 0.04, 0.02),
                                   "DR-35-3": (-0.012, 0.008, -0.03, 0.02)}, until=420),
        # Worn to grade 3 at the last look, and its sleeve not yet changed.
        Life(
            "WP-38", "mia", 1035, {"WP-38": (0.018, -0.012, 0.05, 0.03)},
            events=(Event(28, "Dust below the guard: open and look", more={"worn": {"crack": "3", "dust": "2"}}),),
        ),
        Life("RF-32", "jon", 1025, {"RF-32": (0.030, -0.020, 0.07, 0.05)}),
        Life("RF-33", "jon", 1010, {"RF-33": (0.026, 0.018, 0.06, -0.04)}, until=60),
    ),
    "Saltholm Mill": (
        Life("ST-08", "jon", 1065, {"ST-08": (0.022, -0.016, 0.06, 0.04)}),
        Life("ST-09", "jon", 1045, {"ST-09-1": (0.018, 0.012, 0.05, 0.03), "ST-09-2": (-0.014, 0.010, -0.04, 0.03)}),
        Life("FA-21", "tor", 1055, {"FA-21-1": (0.030, 0.018, 0.07, -0.05), "FA-21-2": (0.016, -0.012, 0.04, 0.03)}),
        Life("WW-03", "jon", 1000, {"WW-03": (-0.010, 0.006, -0.03, 0.02)}),
    ),
}  # fmt: skip
