"""The keyboard belongs to the form while it is in it."""

from __future__ import annotations

import anywidget

# JupyterLab takes Enter, arrows and letters for its own wherever no text can be typed, also on a
# button or in a list of choices, unless the element that has the keyboard says otherwise.
_IN_THE_PAGE = """
export default {
  render({ el }) {
    const until = performance.now() + 10000;
    const keys = (event) => {
      if ((event.ctrlKey || event.metaKey) && !event.shiftKey && event.key === "s") {
        event.preventDefault();
        event.currentTarget.querySelector("button.sy-save")?.click();
      }
    };
    const look = () => {
      const form = el.closest(".sy-entry");
      const box = form?.querySelector("textarea, input, select");
      if (!box) {
        if (performance.now() < until) requestAnimationFrame(look);
        return;
      }
      form.addEventListener("focusin", (event) =>
        event.target.setAttribute("data-lm-suppress-shortcuts", "true")
      );
      form.addEventListener("keydown", keys);
      const tell = () =>
        form.querySelectorAll("button.sy-fold").forEach((fold) =>
          fold.setAttribute("aria-expanded", String(fold.classList.contains("sy-open")))
        );
      new MutationObserver(tell).observe(form, {
        subtree: true, childList: true, attributes: true, attributeFilter: ["class"]
      });
      tell();
      if (!form.contains(document.activeElement)) box.focus({ preventScroll: true });
    };
    requestAnimationFrame(look);
  }
};
"""


class Keyboard(anywidget.AnyWidget):
    """Nothing to be seen: focuses the first box once it is drawn, keeps the notebook's shortcuts
    off the form, lets Ctrl and S save the study, and says of each folded part if it is open."""

    _esm = _IN_THE_PAGE
