// The list of what waits on this phone; where somebody entered the same meanwhile, both sides.
"use strict";
(() => {
  const list = document.getElementById("waiting"), told = document.getElementById("sending");
  const make = (tag, text = "", more = {}) => Object.assign(document.createElement(tag), {textContent: text}, more);
  const hidden = new Set(["request", "head", "tapped", "what", "over", "closes", "text"]);
  const words = (item) => {
    const lines = document.createElement("div");
    for (const [name, value] of item.fields) {
      if (hidden.has(name) || value === "") continue;
      if (value instanceof Blob) { const picture = make("img", "", {src: URL.createObjectURL(value), alt: "photo that waits"}); lines.append(picture); continue; }
      const number = name.match(/\.(\d+)$/);
      if (number && /^(requirement|where)\./.test(name) && !item.fields.some(([n, v]) => n === "value." + number[1] && v)) continue;
      lines.append(make("p", name.replace(/\.\d+$/, name.startsWith("mark.") ? " of hole " + number[1] : "") + ": " + value));
    }
    const what = (item.fields.find(([n]) => n === "what") || [])[1];
    if (what?.startsWith("clock-")) lines.append(make("p", what.replace("clock-", "clock: ")));
    return lines;
  };
  const show = async () => {
    const items = await waitingForms.all();
    list.replaceChildren(...items.map((item) => {
      const line = make("li", "", {id: item.id});
      const where = decodeURIComponent(item.url.replace(/^\/(stage|tally|twist|photo\/add)\//, "")).replace("/", ", ");
      line.append(make("p", where + ", entered " + new Date(item.at).toLocaleString() + (item.state === "waits" ? ": waits" : ": for you to decide")));
      if (item.state === "waits") { line.append(words(item)); return line; }
      const sides = make("div", "", {className: "sides"}), mine = document.createElement("div"), theirs = document.createElement("div");
      mine.append(make("h3", "On this phone"), words(item));
      theirs.append(make("h3", "In the record"));
      for (const said of item.said || []) theirs.append(make("p", said));
      for (const c of item.clashes || []) theirs.append(make("p", c.what + ": " + c.theirs + " (here " + c.mine + "), by " + c.by + " " + c.at.slice(0, 16).replace("T", " ") + ", entry " + c.entry));
      sides.append(mine, theirs);
      const again = make("button", (item.clashes || []).length ? "Enter mine as well" : "Try again", {type: "button"});
      again.onclick = async () => { await waitingForms.put({...item, state: "waits", fields: [...item.fields.filter(([n]) => n !== "over"), ...((item.clashes || []).length ? [["over", "yes"]] : [])]}); await show(); dispatchEvent(new Event("queue-send")); };
      const drop = make("button", "Drop mine", {type: "button", className: "second"});
      drop.onclick = async () => { if (drop.dataset.sure) { await waitingForms.drop(item.n); show(); } else { drop.dataset.sure = "yes"; drop.textContent = "Drop it for good"; } };
      const buttons = make("p", "", {className: "buttons"});
      buttons.append(again, drop);
      line.append(sides, buttons);
      return line;
    }));
    told.textContent = items.length ? "" : "Nothing waits on this phone.";
  };
  document.getElementById("send").onclick = () => { told.textContent = "Sending…"; dispatchEvent(new Event("queue-send")); };
  window.addEventListener("queue", show);
  if (!isSecureContext || !("serviceWorker" in navigator)) { told.textContent = "On this connection nothing is kept on the phone: it can when the laptop serves with --tls."; return; }
  show();
})();
