"""Sentences of what pays."""

US: dict[str, str] = {
    "to.what_pays.show": "What pays",
    "reports.backwards": "The last day comes before the first.",
    "reports.by.clients": "By client",
    "reports.by.kinds": "By kind of horse",
    "reports.period.last_12_months": "Last 12 months",
    "reports.period.this_year": "This year",
    "reports.period.this_month": "This month",
    "reports.period.last_month": "Last month",
    "reports.unknown.clients": "Payer not known yet",
    "reports.unknown.kinds": "Kind not known yet",
    "reports.all": "All",
    "reports.hours": "{hours}\u00a0h\u00a0{minutes:02}",
    "reports.an_hour": "{hour_cents} an hour",
    "reports.left": "Of {worked_cents} worked for, {left_cents}{share} is left after materials,"
    " drive and tools.",
    "reports.left_share": " ({percent} %)",
    "reports.took": "It took {hours}, so each hour left {hour_cents}.",
    "reports.most": "{name} left most, {left_cents}.",
    "reports.least": "For an hour, {name} left least, {per_hour_cents}; an hour of yours is"
    " reckoned at {hour_cents}, so that still pays for it.",
    "reports.least_below": "For an hour, {name} left least, {per_hour_cents}; an hour of yours is"
    " reckoned at {hour_cents}, so that does not pay for it.",
    "reports.measured": "Measured: {minutes} of the minutes, {drive} of the drive, {materials} of"
    " what the materials cost. The rest is estimated.",
    "reports.all_measured": "Minutes, drive and materials were all measured.",
    "reports.pay_not_in": "An apprentice’s pay is not in these figures: {pay_cents} is owed for"
    " days in this time.",
    "reports.share.all": "all",
    "reports.share.none": "none",
    "reports.share.part": "{percent} %",
    "reports.late.taken_back": "worked on {on_day}; its bill was taken back",
    "reports.late.settled": "worked on {on_day}; a delivery since put the cost right",
    "reports.part.worked": "Worked for, without tax",
    "reports.part.taken_back": "Taken back since",
    "reports.part.materials": "Shoes, nails and the rest",
    "reports.part.settled": "Put right by deliveries since",
    "reports.part.drive": "Drive, shared over the horses there",
    "reports.part.tools": "Tools",
    "reports.part.left": "Left for {hours}",
    "reports.part.time": "Your time",
    "reports.part.after_time": "After your time",
}

UK: dict[str, str] = {}
