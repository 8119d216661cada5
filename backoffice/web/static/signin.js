// The one-time link carries its token after the #, where no log or proxy sees it.

const form = document.querySelector("form#sign-in");

function take() {
  const token = new URLSearchParams(location.hash.slice(1)).get("token");
  if (!token || !form) return;
  history.replaceState(null, "", location.pathname + location.search);
  form.elements.namedItem("token").value = token;
  form.requestSubmit();
}

addEventListener("hashchange", take);
take();
