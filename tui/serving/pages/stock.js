// The tab's own process: its number is drawn once and kept for this tab, so that a page loaded again finds it.
"use strict";
(() => {
  const KEY = "impression-stock-session";
  const draw = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (n) => n.toString(16).padStart(2, "0")).join("");
  const kept = sessionStorage.getItem(KEY);
  const name = /^[0-9a-f]{32}$/.test(kept || "") ? kept : draw();
  sessionStorage.setItem(KEY, name);
  const encrypted = location.protocol === "https:";
  document.getElementById("terminal").dataset.sessionWebsocketUrl =
    `${encrypted ? "wss" : "ws"}://${location.host}/ws/${name}`;
  document.getElementById("plain").hidden =
    encrypted || ["localhost", "127.0.0.1", "[::1]"].includes(location.hostname);
  // Keys go to the screens at once, and again when the window comes back. The screens are told so when they are there:
  // what the toolkit's script says before its connection stands is lost.
  const focus = () => {
    const keys = document.querySelector(".xterm-helper-textarea");
    keys?.blur();
    keys?.focus();
  };
  const painted = new MutationObserver(() => {
    if (document.body.classList.contains("-first-byte")) {
      painted.disconnect();
      focus();
    }
  });
  painted.observe(document.body, { attributes: true, attributeFilter: ["class"] });
  window.addEventListener("focus", focus);
  document.getElementById("go-on").addEventListener("click", () => location.reload());
})();
