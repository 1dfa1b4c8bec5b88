// A gauge that types like a keyboard: digits in a burst, then Enter or Tab, whatever has the focus.
// A burst is told from a person by its speed; what the burst left in another field is put back.
window.midlimit = window.midlimit || {};
midlimit.gauge = (() => {
  const GAP_MS = 60;
  const NUMBER = /^[+-]?(\d+[.,]?\d*|[.,]\d+)$/;
  let burst = null;

  const isText = (element) => element.matches("input[type=text], input[type=search], textarea");

  function listen(mainField, take) {
    document.addEventListener(
      "keydown",
      (event) => {
        const field = mainField();
        if (!field || event.ctrlKey || event.metaKey || event.altKey) return;
        if (event.key.length === 1) note(event, field);
        else if (event.key === "Enter" || event.key === "Tab") end(event, field, take);
      },
      true,
    );
  }

  function note(event, field) {
    const at = event.target;
    const isNew = !burst || burst.at !== at || event.timeStamp - burst.last > GAP_MS;
    if (isNew) {
      burst = { at, text: "", last: 0, before: isText(at) ? at.value : null, main: field.value };
    }
    burst.last = event.timeStamp;
    if (!/[0-9.,+-]/.test(event.key)) return;
    burst.text += event.key;
    if (isText(at)) return;
    event.preventDefault();
    field.value += event.key;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function end(event, field, take) {
    const done = burst;
    burst = null;
    if (!done || !done.text) return;
    const isFast = event.timeStamp - done.last <= GAP_MS * 2;
    const isGauge = isFast && done.text.length >= 3 && NUMBER.test(done.text);
    if (isGauge) {
      event.preventDefault();
      event.stopPropagation();
      if (done.before === null) field.value = done.main;
      else done.at.value = done.before;
      take(done.text);
    } else if (event.key === "Enter" && event.target === document.body && field.value) {
      event.preventDefault();
      field.form.requestSubmit();
    }
  }

  return { listen };
})();
