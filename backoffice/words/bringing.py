"""Sentences of bringing a workbook in."""

US: dict[str, str] = {
    "bring.heading": "Brought in from {file}:",
    "bring.heading_dry": "This is what would come in from {file}:",
    "bring.kind.client": "{count} {count:client|clients}",
    "bring.kind.yard": "{count} {count:barn|barns}",
    "bring.kind.horse": "{count} {count:horse|horses}",
    "bring.kind.job": "{count} past {count:job|jobs}",
    "bring.kind.price": "{count} {count:price|prices}",
    "bring.kind.item": "{count} {count:thing|things} on the shelf",
    "bring.kind.tool": "{count} {count:tool|tools}",
    "bring.kind.spending": "{count} {count:line|lines} of money out",
    "bring.kind.owed": "{count} {count:sum|sums} still owed",
    "bring.here_already": "{what} (here already)",
    "bring.in_all": "{what}, {sum_cents} in all",
    "bring.beside": "{what} (and {known} here already)",
    "bring.section.left_out": "Left out, because it could not be read or has no place here:",
    "bring.section.changed": "Read otherwise than it is written, and why:",
    "bring.section.find_out": "Not known yet. Nothing waits for it; say it when you know it:",
    "bring.more": "and {count} more like {count:this|these}: {cells}",
    "bring.cells": "{cells} and {count} more",
    "bring.named": "{names} and {count} more",
    "bring.saved": "Saved: {count} {count:record|records}.",
    "bring.look": "Who is due stands under Plan, what is owed under Money.",
    "bring.not_saved": "Nothing was saved: this was a dry run. Without --dry-run it is brought in.",
    "bring.nothing_taken": "Nothing in it could be brought in.",
    "bring.nothing_new": "Nothing new: all of it is here already.",
    "bring.wait.payer": "Who pays",
    "bring.wait.yard": "Where it stands",
    "bring.wait.kind": "What kind of horse",
    "bring.wait.last_done": "When it was last done",
    "bring.wait.service": "What was done to which feet",
    "bring.wait.count": "How many there are",
    "bring.wait.how_paid": "How {count} {count:line|lines} of money out {count:was|were} paid,"
    " counted as transfers",
    "bring.changed.service_made": "is a service of its own from now on; how long it takes is yours"
    " to say",
    "bring.changed.shoe_made": "this shoe is in no stock list, so it has a shelf that was not"
    " counted",
    "bring.changed.nail_made": "these nails are in no stock list, so they have a shelf that was"
    " not counted",
    "bring.changed.size_noted": "not shod in the past that was written down, so {count:its|their}"
    " size stands in the notes",
    "bring.size_noted": "{feet}: size {size}",
    "bring.changed.price_stays": "the price set here, {here_cents}, stays",
    "bring.left_out.extra": "an extra at {price_cents} has no list here; tell it with the price at"
    " the barn",
    "bring.left_out.price_kind": "no kind of horse here is called {kind}",
    "bring.left_out.tool_note": "has no day it could be written down on; its work is counted from"
    " now on",
    "bring.left_out.to_come": "{on_day} has not come yet",
    "bring.doubts": "{count} {count:question is|questions are} not answered yet.",
    "bring.nobody_works": "Write down first who does the horses: Office, People.",
    "bring.questions": "Before anything is brought in, {count:one thing|{count} things} must be"
    " known:",
    "bring.answer_option": "Add {option} to the command.",
    "bring.or": " or ",
    "bring.answer_one": "Answer one of: {choices}",
    "bring.answer_any": "Answer in your own words.",
    "bring.answer_file": "Write the answers into {file}, and run the same command again. With"
    " --dry-run the questions are put into it.",
    "bring.make_file": "With --dry-run --answers answers.toml these questions are written into a"
    " file to fill in.",
    "bring.file_written": "The questions are in {file} now: type each answer between the quotes,"
    " then run the same command again.",
    "bring.no_file": "There is no file {file}. With --dry-run it is made from the questions.",
    "bring.not_written": "{file} could not be written.",
    "bring.file_heading": "Type each answer between the quotes, then run the same command again.",
    "bring.file_before": "Answered before:",
    "bring.answers_unreadable": "The answers cannot be read: each stands between quotes. {said}",
    "bring.progress.client": "clients",
    "bring.progress.price": "prices",
    "bring.progress.item": "the shelf",
    "bring.progress.horse": "horses",
    "bring.progress.job": "past jobs",
    "bring.progress.owed": "what is owed",
    "bring.progress.spending": "money out",
}
UK: dict[str, str] = {
    "bring.kind.yard": "{count} {count:yard|yards}",
    "bring.left_out.extra": "an extra at {price_cents} has no list here; tell it with the price at"
    " the yard",
}
