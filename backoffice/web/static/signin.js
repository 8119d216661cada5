// The one-time link carries its token after the #, where no log or proxy sees it.

const token = new URLSearchParams(location.hash.slice(1)).get("token");
const form = document.querySelector("form#sign-in");

if (token && form) {
  history.replaceState(null, "", location.pathname + location.search);
  form.elements.namedItem("token").value = token;
  form.requestSubmit();
}
