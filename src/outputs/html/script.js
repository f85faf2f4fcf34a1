'use strict';
// Adds a cursor along the run, and a closer look. Everything can be read without it.
(() => {
  const run = document.getElementById('run');
  const place = run && run.querySelector('.cursor');
  const charts = run ? [...run.querySelectorAll('svg.data')] : [];
  if (!place || !charts.length) return;
  const list = (key) => run.dataset[key].split('\n');
  const names = list('names'), clocks = list('clocks'), slots = list('slots');
  const total = names.length;
  if (total < 2) return;
  const plots = [...run.querySelectorAll('.plot')].map((figure) => ({
    title: figure.querySelector('h3').firstChild.data.trim(),
    told: figure.dataset.told.split('\n'),
    times: figure.querySelector('.times'),
  }));
  let from = 0, to = total, at = 0;

  const make = (name, text, parent) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    parent.append(element);
    return element;
  };
  const label = make('label', 'Look along the run', place);
  const slider = make('input', '', label);
  slider.type = 'range';
  slider.min = 0;
  slider.max = total - 1;
  slider.value = 0;
  const told = make('output', '', place);
  const buttons = make('div', '', place);
  buttons.className = 'buttons';
  const button = (text, act) => {
    const one = make('button', text, buttons);
    one.type = 'button';
    one.addEventListener('click', act);
    return one;
  };
  const nearer = button('Closer', () => zoom((to - from) / 3));
  const wider = button('Wider', () => zoom((to - from) * 3));
  const whole = button('Whole run', () => zoom(total));

  const needles = charts.map((chart) => {
    const line = document.createElementNS('http://www.w3.org/2000/svg', 'line');
    line.setAttribute('class', 'needle');
    line.setAttribute('y1', 0);
    line.setAttribute('y2', 1000);
    chart.append(line);
    return line;
  });

  const before = (list, n) => {
    while (n > 0 && !list[n]) n -= 1;
    return list[n];
  };
  const show = () => {
    slider.value = at;
    for (const needle of needles) {
      needle.setAttribute('x1', at + 0.5);
      needle.setAttribute('x2', at + 0.5);
    }
    const parts = names[at] ? [names[at], clocks[at], slots[at] && 'slot ' + slots[at]] : ['no frame here', 'after ' + before(names, at)];
    for (const plot of plots) if (plot.told[at]) parts.push(plot.title.toLowerCase() + ' ' + plot.told[at]);
    told.textContent = parts.filter(Boolean).join(' · ');
    slider.setAttribute('aria-valuetext', told.textContent);
  };
  const zoom = (span) => {
    span = Math.min(total, Math.max(Math.min(total, 12), Math.round(span)));
    from = Math.max(0, Math.min(total - span, Math.round(at - span / 2)));
    to = from + span;
    frame();
  };
  const frame = () => {
    for (const chart of charts) {
      const height = chart.getAttribute('viewBox').split(' ')[3];
      chart.setAttribute('viewBox', from + ' 0 ' + (to - from) + ' ' + height);
    }
    for (const plot of plots) {
      const texts = [...plot.times.children];
      texts.forEach((text, n) => {
        const share = parseFloat(text.getAttribute('x')) / 100;
        const column = Math.round(from + share * (to - from - 1));
        if (from === 0 && to === total) text.textContent = text.dataset.whole || text.textContent;
        else {
          text.dataset.whole = text.dataset.whole || text.textContent;
          text.textContent = before(clocks, column);
        }
      });
    }
    nearer.disabled = to - from <= 12;
    wider.disabled = whole.disabled = to - from >= total;
    show();
  };
  slider.addEventListener('input', () => {
    at = Number(slider.value);
    if (at < from || at >= to) zoom(to - from);
    show();
  });
  for (const chart of charts) {
    chart.addEventListener('pointermove', (event) => {
      const box = chart.getBoundingClientRect();
      const share = Math.min(0.9999, Math.max(0, (event.clientX - box.left) / box.width));
      at = Math.floor(from + share * (to - from));
      show();
    });
  }
  frame();
})();
