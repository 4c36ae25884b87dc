// Small conveniences; every page works without them.
"use strict";
// the rule on the bench sheet: a tap on a step moves it there and greys what lies above
document.querySelectorAll(".bench-sheet .steps.tick").forEach((list) => {
  const key = "rule:" + location.pathname + ":" + [...document.querySelectorAll(".steps.tick")].indexOf(list);
  const items = [...list.children];
  const put = (at, told = false) => {
    if (!told) list.dispatchEvent(new CustomEvent("rule", {detail: at}));
    items.forEach((item, n) => {
      item.classList.toggle("at", n === at);
      item.classList.toggle("ticked", n < at);
      if (n === at) item.setAttribute("aria-current", "step");
      else item.removeAttribute("aria-current");
    });
    // (another page of the same stage may move it too)
    try { sessionStorage.setItem(key, String(at)); } catch { /* no storage: the rule just isn't remembered */ }
  };
  items.forEach((item, n) => {
    item.tabIndex = 0;
    item.addEventListener("click", () => put(n));
    item.addEventListener("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); put(n); } });
  });
  let kept = null;
  try { kept = sessionStorage.getItem(key); } catch { kept = null; }
  if (kept !== null) put(Number(kept), true);
  list.addEventListener("put", (event) => put(event.detail, true));
});
// a form that was refused, or answered on the spot: go to what is wrong, or to the answer
{
  const told = document.getElementById("mistakes") || document.querySelector("main > [role=alert], main > .answer");
  if (told) { told.tabIndex = -1; told.focus(); }
  // a form that led back to its own place: the focus goes on from there, not from the head of the sheet
  else if (location.hash.length > 1 && document.activeElement === document.body) {
    const place = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (place && place.matches("input, select, textarea")) { place.focus(); place.select?.(); }
    else if (place && !place.matches("a, button, summary")) { place.tabIndex = -1; place.focus({preventScroll: true}); }
  }
}
// a form is sent once, however often the button is hit (the server would count it once anyway)
document.querySelectorAll("form[method=post]:not([data-again])").forEach((form) => {
  let sent = false;
  form.addEventListener("submit", (event) => { if (sent) event.preventDefault(); sent = true; });
});
window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
