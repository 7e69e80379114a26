"""Which doors of the access matrix a contractor passes, at the outing he is on."""

# What a contractor is let in to, about the work order he is on; the other orders of the site are not there for him.
# An address that names a row and is not here does not let him in, so a new one is shut until it is written down.
CONTRACTOR_AT_WORK = {
    "api-site-detail": {"get"}, "api-area-detail": {"get"}, "api-train-detail": {"get"},
    "api-train-run-hours": {"get", "post"}, "api-data-sheet-detail": {"get"},
    "api-data-sheet-one-version": {"get"}, "api-data-sheet-comparison": {"get"}, "api-data-sheet-advice": {"get"},
    "api-train-service": {"get"}, "api-train-strike-run-hours": {"post"},
    "api-coupling-detail": {"get"}, "api-coupling-limits": {"get"}, "api-fit-detail": {"get", "patch"},
    "api-fit-remove": {"post"}, "api-fit-move": {"post"}, "api-fit-swap-hub": {"post"},
    "api-element-detail": {"get", "patch"}, "api-element-take-out": {"post"}, "api-instrument-detail": {"get"},
    "api-instrument-calibrations": {"get"}, "api-instrument-uses-list": {"get"},
    "api-work-order-detail": {"get"}, "api-work-order-isolate": {"post"}, "api-work-order-verify-isolation": {"post"},
    "api-work-order-remove-isolation": {"post"}, "api-visit-detail": {"get"}, "api-visit-drop": {"post"},
    "api-visit-entries": {"get"}, "api-visit-entry": {"get", "patch"}, "api-visit-round": {"get", "patch"},
    "api-visit-records": {"get"}, "api-visit-summary": {"get"}, "api-visit-sign": {"post"},
    "api-visit-what-if": {"post"}, "api-visit-hold-points": {"get"}, "api-visit-witness": {"post"},
    "api-visit-hand-over": {"post"}, "api-visit-run-up": {"post"}, "visit-witness": {"post"},
    "visit-hand-over": {"post"}, "api-visit-add-photo": {"post"}, "visit-photos": {"post"},
    "photo": {"get"}, "photo-remove": {"post"}, "api-photo-detail": {"get", "delete"}, "api-photo-content": {"get"},
    "walk": {"get"}, "visit-run-up": {"get", "post"},
    "coupling": {"get"}, "coupling-begin": {"post"}, "coupling-hours": {"post"}, "visit": {"get"},
    "visit-isolation": {"post"}, "visit-drop": {"post"}, "visit-step": {"get", "post"}, "visit-round": {"get", "post"},
    "visit-sign": {"get", "post"}, "visit-record": {"get"}, "visit-certificate": {"get"},
    "coupling-job-card": {"get"}, "register-sites-one": {"get"}, "register-areas-one": {"get"},
    "register-data-sheets-one": {"get"},
    "register-trains-one": {"get"}, "register-trains-run-hours": {"get", "post"},
    "register-trains-new-meter": {"get", "post"},
    "register-trains-strike-reading": {"get", "post"},
    "register-trains-exchange-unit": {"get", "post"}, "register-trains-put-unit": {"get", "post"},
    "register-trains-take-unit-out": {"get", "post"}, "register-couplings-one": {"get"}, "register-fits-one": {"get"},
    **{f"register-fits-{act}": {"get", "post"} for act in ("change", "move", "remove", "swap-hub", "element")},
    "register-elements-one": {"get"}, "register-elements-take-out": {"get", "post"},
    "register-elements-mend": {"get", "post"}, "register-instruments-one": {"get"},
}  # fmt: skip
# Rows of World that stand at one train.
AT_A_TRAIN = frozenset(
    {*"train coupling fitted_coupling fit element sheet_with_version order bare_order".split()}
    | {*"visit signed photo check flag".split()}
)
