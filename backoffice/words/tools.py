"""Sentences of tools."""

US: dict[str, str] = {
    "tool.knife": "knife",
    "tool.rasp": "rasp",
    "tool.nippers": "nippers",
    "tool.clinchers": "clinchers",
    "tool.hammer": "hammer",
    "tool.stand": "stand",
    "tool.forge": "forge",
    "tool.gas": "propane tank",
    "tool.other": "other tool",
    "stage.new": "hooves",
    "stage.finishing": "finishing",
    "stage.hot": "hot work",
    "tool_event.bought": "bought",
    "tool_event.sharpened": "sharpened",
    "tool_event.reground": "reground",
    "tool_event.went_dull": "went dull",
    "tool_event.staged": "moved to easier work",
    "tool_event.looked_at": "looked at",
    "tool_event.leaned": "leaned on",
    "tool_event.slipped": "slipped, or made a noise",
    "tool_event.fell": "fell, bent or dropped",
    "tool_event.repaired": "repaired",
    "tool_event.put_away": "put away for good",
    "tools.do_not_use": "Do not use until looked at.",
    "tools.look_first": "Look at it before tomorrow.",
    "tools.never_looked_at": "Not looked at yet.",
    "tools.not_checked_since": "Not checked since {look_day}.",
    "tools.looked_at_today": "Looked at today.",
    "tools.looked_at": "Looked at {days} {days:day|days} ago.",
    "tools.since.sharpened": "Since last sharpened about {horses} ordinary"
    " {number:horse’s|horses’} worth.",
    "tools.since.sharpened.nothing": "Hardly used since last sharpened.",
    "tools.since.new": "About {horses} ordinary {number:horse’s|horses’} worth, and not sharpened"
    " yet.",
    "tools.since.new.nothing": "Hardly used yet.",
    "tools.since.rasp": "About {horses} ordinary {number:horse’s|horses’} worth on it.",
    "tools.since.rasp.nothing": "Hardly used yet.",
    "tools.caution.sharpening": "Grinding and sharpening: guard on the wheel, glasses and a dust"
    " mask on, nobody beside you.",
    "tools.caution.forge": "Forge: outside or with doors open. Carbon monoxide has no smell. Let it"
    " cool before it goes away.",
    "tools.caution.gas": "Gas: tank upright, hoses leak-tested with soapy water at each change,"
    " plenty of air, shut off before you drive.",
    "tools.caution.stand": "Stand: lock and strap before each horse. After a fall do not use it"
    " until it has been looked at.",
    "tools.no_next_stage": "Only a rasp moves to easier work, and after hot work it is scrap.",
    "tools.scrap_above_price": "That is more than the tool cost.",
    "tools.stage_of_rasp": "Only a rasp has a stage.",
    "tools.undone_already": "That work was taken back before.",
    "broken.tool_since": "Tool {tool_id}: {kept} thousandths of a horse are kept since it was last"
    " sharpened; its work says {counted}.",
    "broken.tool_total": "Tool {tool_id}: {kept} thousandths of a horse are kept in all; its work"
    " says {counted}.",
    "broken.tool_state": "Tool {tool_id}: when it was last sharpened or looked at is not what its"
    " log says.",
    "broken.wear_undo": "Tool {tool_id}: row {wear_id} does not take back what it names.",
}

UK: dict[str, str] = {
    "tool.stand": "foot stand",
    "tool.gas": "gas bottle",
    "tools.caution.gas": "Gas: bottle upright, hoses leak-tested with soapy water at each change,"
    " plenty of air, turned off before you drive.",
}
