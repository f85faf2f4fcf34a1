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

// The run-through: pictures that wait in a template, stepped, scrubbed and played. It never plays by itself.
(() => {
  const player = document.querySelector('#run-through .player');
  const waiting = document.querySelector('#run-through template');
  if (!player || !waiting) return;
  const ticks = [...waiting.content.children].map((tick) => ({
    name: tick.dataset.name, clock: tick.dataset.clock, slot: tick.dataset.slot, missing: !tick.dataset.at,
    picture: tick.querySelector('img') || document.querySelector('.filmstrip img[data-at="' + tick.dataset.at + '"]'),
  }));
  if (!ticks.length) return;
  const make = (name, text, parent) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    parent.append(element);
    return element;
  };
  const build = () => {
    player.textContent = '';
    const fps = Number(player.dataset.fps), each = Number(player.dataset.each);
    const marks = player.dataset.marks.split(' ').filter(Boolean).map(Number).sort((a, b) => a - b);
    // The clip's own pace; a long clip is hurried so that it is through in a minute.
    const whole = ticks.length * each / fps;
    const hurry = Math.max(1, whole / 60);
    const pause = 1000 * each / fps / hurry;
    let at = 0, timer = 0;

    const screen = make('div', '', player);
    screen.className = 'frame';
    const image = make('img', '', screen);
    image.alt = '';
    const blank = make('p', '', screen);
    const told = make('output', '', player);
    const label = make('label', 'Place in the run', player);
    const slider = make('input', '', label);
    slider.type = 'range';
    slider.min = 0;
    slider.max = ticks.length - 1;
    const buttons = make('div', '', player);
    buttons.className = 'buttons';
    const button = (text, act) => {
      const one = make('button', text, buttons);
      one.type = 'button';
      one.addEventListener('click', act);
      return one;
    };
    const show = (n) => {
      at = Math.min(ticks.length - 1, Math.max(0, n));
      const tick = ticks[at];
      image.hidden = tick.missing || !tick.picture;
      if (!image.hidden) image.src = tick.picture.src;
      blank.textContent = tick.missing ? 'missing slot' : tick.picture ? '' : 'no picture of this frame';
      screen.classList.toggle('missing', tick.missing);
      const words = [tick.name || 'no frame', tick.clock, tick.slot && 'slot ' + tick.slot];
      told.textContent = words.filter(Boolean).join(' · ');
      slider.value = at;
      slider.setAttribute('aria-valuetext', told.textContent);
    };
    const stop = () => {
      clearInterval(timer);
      timer = 0;
      play.textContent = 'Play';
    };
    const play = button('Play', () => {
      if (timer) return stop();
      if (at >= ticks.length - 1) show(0);
      let from = at, begun = performance.now();
      timer = setInterval(() => {
        const due = from + Math.floor((performance.now() - begun) / pause);
        if (due >= ticks.length - 1) { show(ticks.length - 1); stop(); } else if (due !== at) show(due);
      }, Math.max(16, pause / 2));
      play.textContent = 'Stop';
    });
    play.className = 'play';
    const step = (n) => () => { stop(); show(at + n); };
    button('Back', step(-1));
    button('On', step(1));
    if (marks.length) {
      button('Finding before', () => { stop(); show([...marks].reverse().find((m) => m < at) ?? marks[0]); });
      button('Next finding', () => { stop(); show(marks.find((m) => m > at) ?? marks[marks.length - 1]); });
    }
    const pace = hurry > 1.05 ? ', ' + hurry.toFixed(1) + ' times as fast as the clip' : '';
    make('p', 'Plays at ' + fps + ' frames a second' + pace + '.', player).className = 'fine';
    slider.addEventListener('input', () => { stop(); show(Number(slider.value)); });
    show(0);
  };
  if (player.dataset.flashes === 'yes') {
    const open = make('button', 'Show the run-through all the same', player);
    open.type = 'button';
    open.addEventListener('click', build);
  } else build();
})();
