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
  }));
  // Parts of the axis on which time runs evenly: columns and clocks. None where the frames stand in a row.
  const pieces = run.dataset.axis.split(';').filter(Boolean).map((piece) => piece.split(' ').map(Number));
  const times = [...run.querySelectorAll('.times')].map((place) => ({ place, first: place.innerHTML }));
  const leaders = run.querySelector('.leaders');
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
  const all = button('Whole run', () => zoom(total));

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
  const clock = (seconds) => new Date(seconds * 1000).toISOString().slice(11, 19);
  // The times of what is shown closer: round ones, six at most, or those of five frames.
  const closer = () => {
    const shown = pieces.map(([a, b, s, t]) => {
      const second = (column) => s + (t - s) * (Math.min(b, Math.max(a, column)) - a) / (b - a);
      return { a, b, s, t, s0: second(from), s1: second(to) };
    });
    const lasts = shown.reduce((sum, piece) => sum + piece.s1 - piece.s0, 0);
    const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200];
    const step = steps.find((step) => lasts / step <= 6) || 86400 * Math.ceil(lasts / 86400 / 6);
    const ticks = [];
    for (const { a, b, s, t, s0, s1 } of shown) {
      for (let n = Math.ceil(s0 / step) * step; n < s1; n += step) {
        const share = (a + (b - a) * (n - s) / (t - s) - from) / (to - from);
        const day = new Date(n * 1000).toLocaleDateString('en-GB', { day: 'numeric', month: 'short', timeZone: 'UTC' });
        ticks.push([share, step < 60 ? clock(n) : step < 86400 ? clock(n).slice(0, 5) : day]);
      }
    }
    return ticks;
  };
  const row = () => [0, 0.25, 0.5, 0.75, 1].map((share) => [share, before(clocks, Math.round(from + share * (to - from - 1)))]);
  const breaks = () => pieces.slice(1).map((piece, n) => [((pieces[n][1] + piece[0]) / 2 - from) / (to - from), '//'])
    .filter(([share]) => share >= 0 && share <= 1);
  const tick = (place, [share, words]) => {
    const { top, bottom } = place.dataset, x = 100 * share + '%';
    const part = (name, set) => {
      const element = document.createElementNS('http://www.w3.org/2000/svg', name);
      for (const key in set) element.setAttribute(key, set[key]);
      place.append(element);
      return element;
    };
    if (words === '//') {
      part('text', { x, y: Number(bottom) + 4, class: 'cutmark', 'text-anchor': 'middle' }).textContent = words;
      return;
    }
    if (pieces.length) part('line', { x1: x, x2: x, y1: top, y2: bottom });
    const anchor = share < 0.02 ? 'start' : share > 0.96 ? 'end' : 'middle';
    part('text', { x, y: Number(bottom) + 16, 'text-anchor': anchor }).textContent = words;
  };
  // The time at a column that holds no frame.
  const due = (column) => {
    const piece = pieces.find(([a, b]) => column >= a - 1 && column <= b);
    return piece && 'about ' + clock(piece[2] + (piece[3] - piece[2]) * (column + 0.5 - piece[0]) / (piece[1] - piece[0]));
  };
  const show = () => {
    slider.value = at;
    for (const needle of needles) {
      needle.setAttribute('x1', at + 0.5);
      needle.setAttribute('x2', at + 0.5);
    }
    const parts = names[at] ? [names[at], clocks[at], slots[at] && 'slot ' + slots[at]] : ['no frame here', due(at), 'after ' + before(names, at)];
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
    const whole = from === 0 && to === total;
    for (const { place, first } of times) {
      place.innerHTML = whole ? first : '';
      if (!whole) for (const one of pieces.length ? [...closer(), ...breaks()] : row()) tick(place, one);
    }
    if (leaders) leaders.style.visibility = whole ? '' : 'hidden';
    nearer.disabled = to - from <= 12;
    wider.disabled = all.disabled = to - from >= total;
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

// The first and the last frame, laid over each other.
(() => {
  const pair = document.querySelector('#first-last .pair');
  const place = document.querySelector('#first-last .fade');
  if (!pair || !place) return;
  const last = pair.lastElementChild.querySelector('img');
  const words = document.createElement('label');
  words.textContent = 'From the first frame to the last';
  const slider = document.createElement('input');
  slider.type = 'range';
  slider.min = 0;
  slider.max = 100;
  slider.value = 50;
  words.append(slider);
  const fade = () => { last.style.opacity = slider.value / 100; };
  slider.addEventListener('input', fade);
  const apart = document.createElement('button');
  apart.type = 'button';
  const difference = (on) => {
    pair.classList.toggle('apart', on);
    apart.setAttribute('aria-pressed', on);
    slider.disabled = on;
    if (on) last.style.opacity = 1;
    else fade();
  };
  apart.textContent = 'Only what differs';
  apart.addEventListener('click', () => difference(!pair.classList.contains('apart')));
  place.append(words, apart);
  pair.classList.add('laid');
  difference(false);
})();

// The run-through: pictures that wait in a template, stepped, scrubbed and played. It never plays by itself.
(() => {
  const player = document.querySelector('#run-through .player');
  const waiting = document.querySelector('#run-through template');
  if (!player || !waiting) return;
  const ticks = [...waiting.content.querySelectorAll('i')].map(({ dataset, firstElementChild }) => ({
    ...dataset, step: Number(dataset.step ?? 1), missing: !dataset.at,
    picture: firstElementChild || document.querySelector('.filmstrip img[data-at="' + dataset.at + '"]'),
  }));
  const problems = [...waiting.content.querySelectorAll('b')].map((sentence) => sentence.textContent);
  if (!ticks.length) return;
  const last = ticks.length - 1;
  // Pictures a second where frames are skipped: no more than three flashes (WCAG 2.2, SC 2.3.1), each of two changes.
  const SKIPPING = 6;
  const make = (name, text, parent) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    parent.append(element);
    return element;
  };
  const build = () => {
    player.textContent = '';
    const { fps, beside } = player.dataset;
    const stops = player.dataset.stops.split(' ').filter(Boolean).map(Number);
    // Whoever asks for less motion begins at half speed.
    let at = 0, timer = 0, due = 0, loops = false, slow = matchMedia('(prefers-reduced-motion: reduce)').matches;

    const screen = make('div', '', player);
    screen.className = 'frame';
    const image = make('img', '', screen);
    image.alt = '';
    image.decoding = 'sync';
    const blank = make('p', '', screen);
    const told = make('output', '', player);
    const label = make('label', 'Place in the run', player);
    const slider = make('input', '', label);
    slider.type = 'range';
    slider.min = 0;
    slider.max = last;
    let buttons;
    const row = () => {
      buttons = make('div', '', player);
      buttons.className = 'buttons';
    };
    const button = (text, act) => {
      const one = make('button', text, buttons);
      one.type = 'button';
      one.addEventListener('click', act);
      return one;
    };
    const show = (n) => {
      at = Math.min(last, Math.max(0, n));
      const tick = ticks[at];
      image.hidden = tick.missing || !tick.picture;
      if (!image.hidden) image.src = tick.picture.src;
      blank.textContent = tick.missing ? 'missing' : tick.picture ? '' : 'no picture of this frame';
      screen.classList.toggle('missing', tick.missing);
      const words = [
        tick.name || 'no frame', tick.clock && (tick.missing ? 'due ' : '') + tick.clock, tick.slot && 'slot ' + tick.slot,
        tick.step > 1 && 'one of ' + tick.step,
      ];
      told.textContent = words.filter(Boolean).join(' · ');
      slider.value = at;
      slider.setAttribute('aria-valuetext', told.textContent);
      if (!stops.length) return;
      const stop = stops.indexOf(at) + 1;
      screen.classList.toggle('wrong', stop > 0);
      const place = stop ? 'Problem place ' + stop + ' of ' + stops.length + '. ' : '';
      problem.textContent = place + (problems[tick.problem] ?? '');
    };
    const stop = () => {
      clearTimeout(timer);
      timer = 0;
      play.textContent = 'Play';
    };
    // What is looped: what stands around the nearest place of a problem, or the whole run.
    const around = () => {
      const near = stops.filter((n) => Math.abs(n - at) <= beside).sort((a, b) => Math.abs(a - at) - Math.abs(b - at))[0];
      return near === undefined ? [0, last] : [Math.max(0, near - beside), Math.min(last, near + Number(beside))];
    };
    const held = () => (slow ? 2000 : 1000) * Math.min(ticks[at].step / fps, Math.max(1 / fps, 1 / SKIPPING));
    const play = (row(), button('Play', () => {
      if (timer) return stop();
      if (at >= last) show(0);
      let [from, to] = around();
      const go = () => {
        if (loops ? at >= to : at >= last) {
          if (!loops) return stop();
          show(from);
        } else show(at + 1);
        wait();
      };
      // No picture is left out: where the browser is late, the run is.
      const wait = () => {
        due = Math.max(due + held(), performance.now());
        timer = setTimeout(go, due - performance.now());
      };
      due = performance.now();
      wait();
      play.textContent = 'Stop';
    }));
    play.className = 'play';
    const toggle = (text, on, act) => {
      const one = button(text, () => {
        one.setAttribute('aria-pressed', act());
      });
      one.setAttribute('aria-pressed', on);
    };
    toggle('Half speed', slow, () => (slow = !slow));
    toggle('Loop', loops, () => {
      stop();
      return (loops = !loops);
    });
    const go = (which) => () => {
      stop();
      show(which());
    };
    row();
    button('Previous frame', go(() => at - 1));
    button('Next frame', go(() => at + 1));
    if (stops.length) {
      button('Previous problem', go(() => stops.findLast((n) => n < at) ?? stops.at(-1)));
      button('Next problem', go(() => stops.find((n) => n > at) ?? stops[0]));
    }
    const problem = make('p', '', player);
    problem.className = 'problem';
    const skips = ticks.some((tick) => tick.step > 1) ? ' Where frames are skipped, at most ' + SKIPPING + ' pictures a second.' : '';
    const loop = stops.length ? ' Loop repeats what is around the problem at hand, or the whole run.' : '';
    make('p', 'Plays at ' + fps + ' frames a second.' + skips + loop, player).className = 'fine';
    slider.addEventListener('input', go(() => Number(slider.value)));
    show(stops[0] ?? 0);
  };
  if (player.dataset.flashes === 'yes') {
    const open = make('button', 'Show the run-through all the same', player);
    open.type = 'button';
    open.addEventListener('click', build);
  } else build();
})();
