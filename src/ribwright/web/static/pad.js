// A number pad for the bench: digits with the slash and dash of the trade's fractions, for a thumb or a knuckle.
// It comes up on touch screens alone; the phone's own keyboard is one key away.
"use strict";
(() => {
  const boxes = [...document.querySelectorAll("input[data-pad]")];
  if (!boxes.length || !matchMedia("(pointer: coarse)").matches) return;
  const keys = [
    ["7"], ["8"], ["9"], ["/"], ["⌫", "rub out"],
    ["4"], ["5"], ["6"], ["-", "- and, as in 1-1/2"], [" mm", "mm, millimetres"],
    ["1"], ["2"], ["3"], ["."], [" in", "in, inches"],
    ["abc", "abc, the phone’s own keyboard"], ["0"], ["#", "#, number of a drill"], ["▾", "put the pad away"], ["next", "next value"],
  ];
  const pad = Object.assign(document.createElement("div"), {id: "pad", hidden: true});
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Number pad");
  let box = null, own = false;
  let leaving = 0;
  const away = () => { pad.hidden = true; document.body.classList.remove("padded"); };
  const up = () => { pad.hidden = false; document.body.classList.add("padded"); box.scrollIntoView({block: "center"}); };
  const put = (text) => {
    const at = box.selectionStart ?? box.value.length, to = box.selectionEnd ?? at;
    if (text) box.setRangeText(text, at, to, "end");
    else box.setRangeText("", at === to ? Math.max(0, at - 1) : at, to, "end");
    box.dispatchEvent(new Event("input", {bubbles: true}));
  };
  const ordinary = () => {
    own = true;
    away();
    boxes.forEach((one) => one.removeAttribute("inputmode"));
    box.blur();
    box.focus();
  };
  const press = (key) => {
    if (!box) return;
    if (key === "abc") ordinary();
    else if (key === "▾") { away(); box.blur(); }
    else if (key === "next") (boxes.slice(boxes.indexOf(box) + 1).find((one) => one.offsetParent) || box).focus();
    else put(key === "⌫" ? "" : key);
  };
  for (const [key, words] of keys) {
    const made = Object.assign(document.createElement("button"), {type: "button", textContent: key.trim(), tabIndex: -1});
    if (words) made.setAttribute("aria-label", words);
    made.addEventListener("pointerdown", (event) => event.preventDefault()); // the value keeps the cursor
    made.addEventListener("click", () => press(key));
    pad.append(made);
  }
  document.body.append(pad);
  for (const one of boxes) {
    one.inputMode = "none";
    one.addEventListener("focus", () => { clearTimeout(leaving); box = one; if (!own) up(); });
    // a moment later: the sheet moves when the pad goes, and the tap that took the cursor away would miss its button
    one.addEventListener("blur", () => { clearTimeout(leaving); leaving = setTimeout(away, 350); });
  }
})();
