// Small helps; every page works without them.

const sendButtons = (form) => form.querySelectorAll("button:not([type=button]), input[type=submit]");

function setSending(form, sending) {
  for (const button of sendButtons(form)) button.disabled = sending;
}

document.addEventListener("submit", ({ target: form }) => {
  if (form.getAttribute("method")?.toLowerCase() !== "post") return;
  // After this turn, so that the pressed button's own value is still sent.
  setTimeout(() => setSending(form, true));
  // A lost connection or a file for an answer leaves the page standing: give the button back.
  setTimeout(() => setSending(form, false), 10_000);
});

window.addEventListener("pageshow", ({ persisted }) => {
  if (persisted) for (const form of document.forms) setSending(form, false);
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea")) return;
  const search = document.querySelector("input[type=search]");
  if (!search) return;
  event.preventDefault();
  search.focus();
  search.select();
});

const refused = document.querySelector("main .field-refused :is(input, select, textarea)");
(refused ?? document.querySelector("main .problems"))?.focus();
