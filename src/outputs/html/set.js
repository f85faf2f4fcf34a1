'use strict';
// Several cameras on one page: the script of one runs once for each, with that camera's part of the page in place of the whole.
(() => {
  const page = document;
  const once = (document) => {
/* the script of one camera */
  };
  for (const part of page.querySelectorAll('.camera')) once({
    getElementById: (id) => page.getElementById(part.dataset.ids + id),
    querySelector: (which) => part.querySelector(which.replaceAll('#', '#' + part.dataset.ids)),
    createElement: (name) => page.createElement(name),
    createElementNS: (space, name) => page.createElementNS(space, name),
  });
})();
