// The page's own script: what is pressed while the kiosk's program is away is never kept for later.
// It owns the connection, the key strokes (with their times) and the flash at the edge of the screen.
(() => {
  "use strict";
  const SETTINGS = window.kioskSettings;
  const Native = window.WebSocket;
  let dead = false, boot = null, misses = 0, keys = null, words = SETTINGS.away;

  // One part of the renderer's bundle asks a public host for a script that these screens do not use: it is never asked.
  const source = Object.getOwnPropertyDescriptor(HTMLScriptElement.prototype, "src");
  Object.defineProperty(HTMLScriptElement.prototype, "src", {
    ...source,
    set(value) {
      if (new URL(value, location.href).origin === location.origin) source.set.call(this, value);
      else setTimeout(() => this.dispatchEvent(new Event("error")), 0);
    },
  });

  function cover() {
    const sheet = document.createElement("div");
    sheet.id = "kiosk-away";
    sheet.setAttribute("role", "alert");
    sheet.style.cssText = "position:fixed;inset:0;z-index:99999;background:#8A0F14;color:#FFFFFF;" +
      "font:700 " + SETTINGS.typePx + "px Kiosk,sans-serif;display:flex;align-items:center;" +
      "justify-content:center;text-align:center;padding:8%;white-space:pre-line";
    sheet.dir = "auto";
    sheet.textContent = words;
    document.body.appendChild(sheet);
  }

  function fail() {
    if (dead) return;
    dead = true;
    cover();
    if (keys) keys.close();
    setInterval(async () => {
      try {
        const answer = await fetch("/kiosk/health", {cache: "no-store", signal: AbortSignal.timeout(1500)});
        if (answer.ok) location.reload();
      } catch (error) { /* still away */ }
    }, 500);
  }

  window.WebSocket = class extends Native {
    constructor(...all) {
      if (dead) throw new Error("the page is about to be loaded again");
      super(...all);
      this.addEventListener("close", fail);
      this.addEventListener("message", (event) => {
        // A frame that says a handler failed: the screen would be covered while its keys still worked.
        if (!(event.data instanceof ArrayBuffer)) return;
        const bytes = new Uint8Array(event.data);
        if (bytes[0] === 0 && bytes[1] === 0x92 && bytes[2] === 6) fail();
      });
    }
    send(data) { if (!dead) super.send(data); }
  };

  setInterval(async () => {
    if (dead) return;
    try {
      const answer = await fetch("/kiosk/health", {cache: "no-store", signal: AbortSignal.timeout(1500)});
      const told = await answer.json();
      misses = 0;
      if (boot === null) boot = told.boot;
      if (boot !== told.boot) fail();
    } catch (error) {
      misses += 1;
      if (misses >= 3) fail();
    }
  }, 2000);

  // Key strokes: sent in bursts with their times; told apart from a person's keys by the program.
  let burst = [], pause = null;
  const NAMES = {Enter: "Enter", NumpadEnter: "Enter", Tab: "Tab", Backspace: "Backspace", Escape: "Escape"};

  function flush() {
    clearTimeout(pause);
    const sent = burst;
    burst = [];
    if (sent.length && keys && keys.readyState === 1 && !dead) {
      keys.send(JSON.stringify({session: sessionStorage.getItem("_flet_session_id"), keys: sent}));
    }
  }

  window.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    event.stopImmediatePropagation();
    event.preventDefault();
    if (dead || event.repeat) return;
    const key = NAMES[event.key] || (event.key.length === 1 ? event.key : null);
    if (key === null) return;
    burst.push([key, Math.round(event.timeStamp * 10) / 10]);
    clearTimeout(pause);
    if (key === "Enter" || key === "Tab") flush();
    else pause = setTimeout(flush, burst.some(([name]) => /^[A-Za-z]$/.test(name)) ? SETTINGS.codeMs : SETTINGS.burstMs);
  }, true);
  for (const kind of ["keyup", "keypress"]) {
    window.addEventListener(kind, (event) => { event.stopImmediatePropagation(); }, true);
  }

  // Two contacts of a bouncing glove are one press; while the program is away there is none at all.
  let last = -1e9;
  const swallowed = new Set();
  window.addEventListener("pointerdown", (event) => {
    const bounced = event.timeStamp - last < SETTINGS.bounceMs;
    if (!bounced) last = event.timeStamp;
    if (dead || bounced) {
      swallowed.add(event.pointerId);
      event.stopImmediatePropagation();
      event.preventDefault();
    }
  }, true);
  for (const kind of ["pointermove", "pointerup", "pointercancel"]) {
    window.addEventListener(kind, (event) => {
      if (!swallowed.has(event.pointerId)) return;
      event.stopImmediatePropagation();
      if (kind !== "pointermove") swallowed.delete(event.pointerId);
    }, true);
  }
  window.addEventListener("contextmenu", (event) => event.preventDefault(), true);

  function flash(mark) {
    const edge = document.createElement("div");
    const colour = mark === "STOP" ? "#8A0F14" : "#C98A00";
    edge.style.cssText = "position:fixed;inset:0;z-index:9999;pointer-events:none;border:" +
      SETTINGS.edgePx + "px solid " + colour;
    edge.dataset.mark = mark;
    document.body.appendChild(edge);
    edge.animate([{opacity: 1}, {opacity: 0.1}, {opacity: 1}, {opacity: 0.1}, {opacity: 1}, {opacity: 0}], 1200)
      .onfinish = () => edge.remove();
  }

  function connect() {
    keys = new Native("ws://" + location.host + "/kiosk/keys");
    keys.onopen = () => { document.documentElement.dataset.keys = "ready"; };
    keys.onmessage = (event) => {
      const told = JSON.parse(event.data);
      if (told.flash) flash(told.flash);
      if (told.away) words = told.away;
    };
    keys.onclose = fail;
  }
  connect();
})();
