"""Sentences of the pages themselves, of signing in, and of what can go wrong."""

US: dict[str, str] = {
    "access.link_used": "That code was used already, or is older than five minutes. Start the"
    " program again for a new one.",
    "access.no_match": "That name and password do not go together.",
    "access.wait": "Too many tries. Wait {seconds} {seconds:second|seconds}, then try again.",
    "access.password_short": "A password needs at least {least} characters.",
    "access.password_easy": "That password is guessed at once. Three or four words in a row make"
    " a good one.",
    "access.somebody_already": "Somebody can sign in here already.",
    "access.last_owner": "Somebody has to stay the owner.",
    "web.no_name": "Back office",
    "web.choose": "choose one",
    "web.file_needed": "Please choose a file.",
    "web.sign_in": "Sign in",
    "web.password": "Your password",
    "web.save_password": "Use this password",
    "web.password_saved": "Your new password is saved. Everywhere else you are signed out.",
    "web.open_it": "Open what was saved",
    "web.save_as_new": "Save the changed text as a new one",
    "web.send_again": "Send again",
    "web.title_not_saved": "Not saved yet",
    "web.title_cannot": "That did not work",
    "web.400": "The program could not make sense of that. Nothing was saved.",
    "web.403": "This page is not open to you. Ask the owner.",
    "web.404": "There is nothing here. It may have moved, or the address is mistyped.",
    "web.405": "This address cannot be opened like that.",
    "web.413": "That is too large to be sent here.",
    "web.other_page": "This was not sent from one of our own pages, so nothing was saved.",
    "web.no_key": "This form has lost its key, so it could be saved twice. Open it afresh.",
    "web.signed_out": "You have been signed out, so nothing was saved yet. Sign in first (in"
    " another tab), then send this again: what you typed is still here.",
    "web.stale_token": "This page was made before you signed in. Send it again: what you typed is"
    " still here.",
    "web.saved_before": "This form was already saved, and then changed. The first one stands.",
    "web.perhaps_saved": "It may be saved. Send again; it cannot be saved twice.",
    "web.full_perhaps": "The disk is full. Make some room, then send again; it cannot be saved"
    " twice.",
    "web.full": "The disk is full or cannot be written. Nothing was saved; make some room, then"
    " send again.",
    "web.busy": "Something else is busy with the books. Nothing was saved; send again in a moment.",
}

UK: dict[str, str] = {}
