"""Sentences of the practice and of kept files."""

US: dict[str, str] = {
    "count.too_small": "This needs to be at least {least}.",
    "name.taken": "There is already one called “{name}”.",
    "setting.unknown": "There is no setting called “{name}”.",
    "setting.nail_waste_ppm": "nails bent or dropped",
    "setting.hour_cents": "what an hour of your work is worth",
    "setting.mile_thousandths": "what a mile of driving costs",
    "setting.setup_minutes": "minutes to set up and pack at a stop",
    "setting.apprentice_ppm": "time an apprentice saves",
    "setting.guarantee_days": "a shoe lost within this many days goes back on free",
    "setting.guarantee_owed_days": "unless a bill has been open longer than this many days",
    "setting.minimum_cents": "the least a stop costs; 0 is no minimum",
    "setting.finish_days": "a horse done in part is finished within this many days",
    "setting.terms_private_days": "days to pay",
    "setting.terms_monthly_days": "days to pay a monthly bill",
    "setting.chase_days": "days past due before a bill is shown as late",
    "setting.ground_ordinary": "ordinary ground",
    "setting.ground_mud": "mud",
    "setting.ground_dry": "dry, hard feet",
    "setting.ground_sand": "sand",
    "setting.cycle_shod_days": "days between shoeings",
    "setting.cycle_trim_days": "days between trims",
    "setting.knife_edge": "horses before a knife wants sharpening",
    "setting.rasp_life": "horses a rasp lasts",
    "setting.look_days": "days between looks at stand, gas and hammers",
    "place.truck": "truck",
    "place.shop": "shop",
    "file.kind": "Only photos (JPEG, PNG, WebP) and PDF files can be kept.",
    "file.too_large": "That file is larger than {most} MB.",
    "file.too_many_dots": "That picture has more than {most} million dots. Take it smaller.",
    "file.unreadable": "That picture cannot be read. Take it again, or save it as a JPEG first.",
    "file.heic": "That photo is HEIC, which many computers cannot show. Set the phone’s camera to"
    " the most compatible kind (JPEG), or send a screenshot of it.",
    "file.gone": "This file is no longer in the data folder. Look for it in your backup.",
}

UK: dict[str, str] = {
    "setting.setup_minutes": "minutes to set up and pack at a visit",
    "place.truck": "van",
}
