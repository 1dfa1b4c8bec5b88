// The keypad types into the field that was used last: the reading unless another was chosen.
window.midlimit = window.midlimit || {};
midlimit.keypad = (() => {
  const CLEAR_MS = 600;
  let armed = "log-value";
  let holding = 0;

  const reading = () => document.getElementById("log-value");
  const field = () => document.getElementById(armed) || reading();

  function arm(id) {
    armed = id;
    document.querySelectorAll("[data-pad]").forEach((other) => {
      other.toggleAttribute("data-armed", other.id === id);
    });
  }

  // The key that fills in the first digits of a reading clears what stands there.
  function nameFill() {
    const key = document.querySelector("[data-key=fill]");
    if (!key || !reading()) return;
    const isFilled = reading().value !== "" || !key.dataset.fill;
    const words = isFilled ? key.dataset.clear : `${key.dataset.fill} …`;
    if (key.textContent === words) return;
    key.textContent = words;
    key.setAttribute("aria-label", isFilled ? key.dataset.clear : key.dataset.name);
  }

  function press(key) {
    const name = key.dataset.key;
    if (name === "fill") arm("log-value");
    const into = field();
    if (!into) return;
    if (name === "back") into.value = into.value.slice(0, -1);
    else if (name === "fill") into.value = into.value ? "" : key.dataset.fill;
    else if (name !== "." || !/[.,]/.test(into.value)) into.value += name;
    into.dispatchEvent(new Event("input", { bubbles: true }));
  }

  document.addEventListener("pointerdown", (event) => {
    const key = event.target.closest("[data-key]");
    if (!key) return;
    event.preventDefault();
    press(key);
    clearTimeout(holding);
    if (key.dataset.key === "back") {
      holding = setTimeout(() => {
        field().value = "";
        nameFill();
      }, CLEAR_MS);
    }
  });
  document.addEventListener("input", (event) => event.target.id === "log-value" && nameFill());
  document.addEventListener("pointerup", () => clearTimeout(holding));
  document.addEventListener("pointercancel", () => clearTimeout(holding));
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (key && event.detail === 0) press(key);
  });
  document.addEventListener("focusin", (event) => {
    if (event.target.matches("[data-pad]")) arm(event.target.id);
  });

  return { arm, nameFill };
})();
