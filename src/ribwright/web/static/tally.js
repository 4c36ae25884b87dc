// Row tally: the bucker marks, the shooter reads.
"use strict";
(() => {
  const board = document.getElementById("tally");
  const {ref, stage, side, head} = board.dataset;
  const shapes = {"good": "●", "a bit more": "▲", "replace": "■"};
  const me = [...crypto.getRandomValues(new Uint8Array(6))].map((b) => b.toString(16)).join("");
  const key = "tally:" + ref;
  const buttons = new Map([...board.querySelectorAll("[data-hole]")].map((b) => [b.dataset.hole, b]));
  const order = [...buttons.keys()].sort((a, b) => a - b);
  const called = document.getElementById("called"), form = document.getElementById("enter"), unsent = document.getElementById("unsent");
  let marks = {};
  const stored = (name) => { try { return JSON.parse(localStorage.getItem(name) || "{}"); } catch { return {}; } };
  if (side === "bucker") {
    // what was sent off is forgotten only when the record shows it, or when it waits on this phone: a form that
    // was refused, or never arrived, has lost no mark
    const sent = stored(key + ":sent"), waits = document.documentElement.dataset.kept !== undefined;
    const open = Object.entries(sent).filter(([hole, mark]) => !waits && buttons.has(hole) && buttons.get(hole).dataset.said !== mark);
    marks = {...Object.fromEntries(open), ...stored(key)};
    try { localStorage.removeItem(key + ":sent"); } catch { /* nothing was kept */ }
  }
  let at = order[0];
  const show = (hole, mark, large) => {
    const button = buttons.get(hole);
    if (!button) return;
    button.dataset.said = mark;
    button.querySelector(".shape").textContent = shapes[mark] || "○";
    button.querySelector(".word").textContent = mark || "not looked at";
    if (large && mark) {
      called.dataset.said = mark;
      called.querySelector(".hole").textContent = hole;
      called.querySelector(".word").textContent = shapes[mark] + " " + mark;
    }
  };
  const choose = (hole) => {
    at = hole;
    buttons.forEach((b, h) => { if (h === hole) b.setAttribute("aria-current", "true"); else b.removeAttribute("aria-current"); });
    document.getElementById("call").setAttribute("aria-label", "Call the head of hole " + hole);
    if (side === "bucker") { called.querySelector(".hole").textContent = hole; called.querySelector(".word").textContent = buttons.get(hole)?.dataset.said || "?"; called.dataset.said = ""; }
  };
  const keep = () => {
    const count = Object.keys(marks).length;
    try { if (count) localStorage.setItem(key, JSON.stringify(marks)); else localStorage.removeItem(key); } catch { /* then they are only on this page */ }
    unsent.textContent = count === 1 ? "1 mark is not in the record yet." : count ? count + " marks are not in the record yet." : "";
    order.forEach((hole) => { const box = form.elements["mark." + hole]; if (box) box.value = marks[hole] || ""; });
  };
  const say = (hole, mark) => fetch("/live/" + encodeURIComponent(ref) + "/say", {method: "POST", body: new URLSearchParams({kind: "mark", stage, hole, mark, from: me})}).catch(() => {});
  if (side === "bucker") {
    document.getElementById("call").hidden = false;
    Object.entries(marks).forEach(([hole, mark]) => { show(hole, mark); say(hole, mark); });
    keep();
    choose(order.find((hole) => !buttons.get(hole).dataset.said) || order[0]);
    const call = (mark) => {
      marks[at] = mark;
      show(at, mark);
      say(at, mark);
      keep();
      choose(order.find((hole) => Number(hole) > Number(at)) || at);
    };
    document.getElementById("call").addEventListener("click", (event) => {
      const mark = event.target.closest("[data-mark]")?.dataset.mark;
      if (mark) call(mark);
    });
    buttons.forEach((button, hole) => button.addEventListener("click", () => choose(hole)));
    // on a hole of the row: arrows go along it as it is seen, a digit calls the head and goes on
    board.querySelector(".row-strip").addEventListener("keydown", (event) => {
      const hole = event.target.closest("[data-hole]")?.dataset.hole;
      if (!hole || event.ctrlKey || event.altKey || event.metaKey) return;
      const seen = [...buttons.keys()], along = {ArrowRight: 1, ArrowLeft: -1}[event.key];
      if (along) { event.preventDefault(); const next = buttons.get(seen[seen.indexOf(hole) + along]); if (next) { next.focus(); choose(next.dataset.hole); } }
      else if (["1", "2", "3"].includes(event.key)) { event.preventDefault(); choose(hole); call(["good", "a bit more", "replace"][Number(event.key) - 1]); buttons.get(at).focus(); }
    });
    form.addEventListener("change", (event) => { const hole = event.target.name?.replace("mark.", ""); if (buttons.has(hole)) { if (event.target.value) marks[hole] = event.target.value; else delete marks[hole]; show(hole, event.target.value); keep(); } });
    form.addEventListener("submit", () => { try { localStorage.setItem(key + ":sent", JSON.stringify(marks)); localStorage.removeItem(key); } catch { /* nothing was kept */ } });
  }
  if (!("EventSource" in window) || document.documentElement.dataset.kept) return;
  const stream = new EventSource("/live/" + encodeURIComponent(ref) + "?head=" + head);
  const told = (message, large) => { if (message.kind === "mark" && message.stage === stage && message.from !== me) show(message.hole, message.mark, large && side === "shooter"); };
  stream.addEventListener("state", (event) => JSON.parse(event.data).said.forEach((m) => told(m, true)));
  stream.addEventListener("said", (event) => told(JSON.parse(event.data), true));
  stream.addEventListener("moved", async () => {
    const answer = await fetch(location.href, {headers: {accept: "text/html"}}).catch(() => null);
    if (!answer?.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    fresh.querySelectorAll("[data-hole]").forEach((b) => { if (!marks[b.dataset.hole] && b.dataset.said) show(b.dataset.hole, b.dataset.said, false); });
  });
  window.addEventListener("pagehide", () => stream.close());
})();
