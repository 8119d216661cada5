"""Sentences of stock."""

US: dict[str, str] = {
    "item_sort.shoe": "shoe",
    "item_sort.nail": "nail",
    "item_sort.pad": "pad",
    "item_sort.packing": "packing",
    "item_sort.rasp": "rasp",
    "item_sort.other": "other",
    "pattern.either": "front or hind",
    "pattern.front": "front",
    "pattern.hind": "hind",
    "stock.not_counted": "not counted yet",
    "stock.count.singles": "{qty}",
    "stock.count.shoes": "{qty} {qty:shoe|shoes}",
    "stock.count.pairs": "{packs} {packs:pair|pairs}",
    "stock.count.pairs_and": "{packs} {packs:pair|pairs} + {rest}",
    "stock.count.packs": "{packs} {packs:pack|packs}",
    "stock.count.packs_and": "{packs} {packs:pack|packs} + {rest}",
    "stock.count.nails": "{qty} {qty:nail|nails}",
    "stock.count.boxes": "{boxes} {many:box|boxes} ({qty})",
    "stock.count.about_boxes": "about {boxes} {many:box|boxes} ({qty})",
    "stock.short.singles": "{qty} more used than came in",
    "stock.short.shoes": "{qty} {qty:shoe|shoes} more used than came in",
    "stock.short.pairs": "{packs} {packs:pair|pairs} more used than came in",
    "stock.short.pairs_and": "{packs} {packs:pair|pairs} + {rest} more used than came in",
    "stock.short.packs": "{packs} {packs:pack|packs} more used than came in",
    "stock.short.packs_and": "{packs} {packs:pack|packs} + {rest} more used than came in",
    "stock.short.nails": "{qty} {qty:nail|nails} more used than came in",
    "stock.short.boxes": "{boxes} {many:box|boxes} ({qty}) more used than came in",
    "stock.short.about_boxes": "about {boxes} {many:box|boxes} ({qty}) more used than came in",
    "stock.move.arrive": "came in",
    "stock.move.work": "used",
    "stock.move.waste": "bent or dropped",
    "stock.move.loss": "missing at a count",
    "stock.move.true_up": "cost put right by a later delivery",
    "stock.move.transfer": "carried over",
    "stock.move.count": "found at a count",
    "stock.move.undo": "put back, the work was put right",
    "stock.already_undone": "This was put back before. Nothing was changed.",
    "stock.same_place": "Choose another place to carry it to.",
    "stock.not_so_many": "The books hold {have} there. If there are more, count the shelf first,"
    " then carry them over.",
    "broken.on_hand": "Item {item_id} at place {place_id}: what is on hand and what came and went"
    " differ by {qty}.",
    "broken.lot_left": "Delivery {lot_id} at place {place_id}: what is left and what came and went"
    " differ by {qty} and {cost_cents}.",
    "broken.lot_received": "Delivery {lot_id}: what came in, what was used and what is left differ"
    " by {qty} and {cost_cents}.",
    "broken.counted_shelf": "Item {item_id} at place {place_id}: what is on hand, what is left of"
    " deliveries and what was used beyond them differ by {qty}.",
    "broken.short_use": "Use {use_id}: what it took beyond the deliveries and what is noted of it"
    " differ by {qty} and {cost_cents}.",
    "broken.used": "Item {item_id} at place {place_id}: what was used and wasted since the count"
    " differ by {used} and {wasted}.",
    "broken.use_moved": "Use {use_id}: what it took and what left the shelf differ by {qty}.",
    "broken.use_undone": "Use {use_id} was put back, but {cost_cents} of it was not.",
    "broken.undoing": "Use {use_id} puts back something else than use {undoes_id} took.",
    "broken.last_cost": "Item {item_id} at place {place_id}: the last known cost is not that of the"
    " last arrival.",
}

UK: dict[str, str] = {}
