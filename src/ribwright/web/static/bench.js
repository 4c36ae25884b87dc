// The bench sheet on two devices: rule, clock, screen, and what came meanwhile.
"use strict";
(() => {
  const stage = document.getElementById("stage");
  if (!stage) return;
  const {ref, stage: name, head} = stage.dataset;
  const me = [...crypto.getRandomValues(new Uint8Array(6))].map((b) => b.toString(16)).join("");
  const live = document.getElementById("live");
  if (!isSecureContext) document.getElementById("cannot").hidden = false;
  const say = (fields) => fetch("/live/" + encodeURIComponent(ref) + "/say", {method: "POST", body: new URLSearchParams({stage: name, from: me, ...fields})}).catch(() => {});

  // the rule: moved here, it moves on every open page of this stage
  const lists = [...document.querySelectorAll(".bench-sheet .steps.tick")];
  lists.forEach((list, number) => list.addEventListener("rule", (event) => say({kind: "ruler", list: String(number), at: String(event.detail)})));

  // blank lines of readings come up as they are needed, each asking for what the one above asked for
  const blanks = [...document.querySelectorAll("table.readings tbody tr")];
  const filled = (row) => [...row.querySelectorAll("input[name^=value]")].some((one) => one.value);
  const lastFilled = () => blanks.reduce((at, row, n) => (filled(row) ? n : at), -1);
  blanks.forEach((row, n) => { row.hidden = n > Math.max(2, lastFilled() + 1); });
  blanks.forEach((row, n) => row.addEventListener("input", () => {
    const next = blanks[n + 1];
    if (!next || !next.hidden || !filled(row)) return;
    next.querySelector("select").value = row.querySelector("select").value;
    next.hidden = false;
  }));

  // the clock runs on the laptop; here it is only shown
  const tick = () => document.querySelectorAll(".ran").forEach((shown) => {
    const s = Math.max(0, Math.floor((Date.now() - Date.parse(shown.dataset.since)) / 1000));
    shown.textContent = Math.floor(s / 3600) + ":" + String(Math.floor(s / 60) % 60).padStart(2, "0") + ":" + String(s % 60).padStart(2, "0");
  });
  tick();
  setInterval(tick, 1000);

  // the screen stays on while a sheet is open
  const awake = document.getElementById("awake");
  let lock = null, wanted = true;
  const keep = async () => {
    if (!wanted || lock || document.visibilityState !== "visible") return;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; shown(); });
    } catch { lock = null; }
    shown();
  };
  const shown = () => { awake.setAttribute("aria-pressed", String(!!lock)); awake.textContent = lock ? "The screen stays on" : "Keep the screen on"; };
  if (isSecureContext && "wakeLock" in navigator) {
    awake.hidden = false;
    awake.addEventListener("click", () => { if (lock) { wanted = false; lock.release(); } else { wanted = true; keep(); } });
    document.addEventListener("visibilitychange", keep);
    keep();
  }

  // what others entered: these parts of the page are fetched anew, what is being typed stays
  let busy = false, again = false;
  const refresh = async () => {
    if (busy) { again = true; return; }
    busy = true;
    try {
      const answer = await fetch(location.pathname + location.search, {headers: {accept: "text/html"}});
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      document.querySelectorAll("[data-fresh]").forEach((old) => {
        const now = fresh.getElementById(old.id);
        if (now && !old.contains(document.activeElement) && ![...old.querySelectorAll("input:not([type=hidden])")].some((box) => box.value !== box.defaultValue)) old.replaceWith(now);
      });
      tick();
    } catch { /* the laptop doesn't answer: the page stays as it is */ } finally { busy = false; if (again) { again = false; refresh(); } }
  };
  if (!("EventSource" in window) || document.documentElement.dataset.kept) return;
  const stream = new EventSource("/live/" + encodeURIComponent(ref) + "?head=" + head);
  const told = (message) => {
    if (message.kind === "ruler" && message.stage === name && message.from !== me) {
      const list = lists[Number(message.list)], at = Number(message.at);
      if (!list) return;
      list.dispatchEvent(new CustomEvent("put", {detail: at}));
      if (list.children[at]) live.textContent = "The rule was moved to step " + (at + 1) + ".";
    }
  };
  stream.addEventListener("state", (event) => { live.textContent = ""; JSON.parse(event.data).said.forEach(told); });
  stream.addEventListener("said", (event) => told(JSON.parse(event.data)));
  stream.addEventListener("moved", (event) => { live.textContent = "Entered just now by " + JSON.parse(event.data).by.join(", ") + "."; refresh(); });
  window.addEventListener("pagehide", () => stream.close());
})();
