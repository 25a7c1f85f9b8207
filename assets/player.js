// @ts-check
// Plays lost links: every element with `data-player` becomes a player of the data embedded in it. No network, no library.
'use strict'
;(() => {
  /**
   * @typedef {{key: string, box_px: [number, number, number, number], x: [number, number], y: [number, number]}} Scale
   * @typedef {{name: string, ink: string, dash_px: [number, number], shape: string, outcome: string, doing: number[],
   *   columns: Record<string, (number | null)[]>}} Policy
   * @typedef {{number: number, time_s: number, policy: number | null, text: string}} Moment
   * @typedef {{window_s: [number, number], lost_at_s: number | null, doings: string[], policies: Policy[],
   *   moments: Moment[], scales: Scale[]}} Data
   * @typedef {{scale: Scale, of: [string, string], steps: string[][], tracks: SVGPathElement[], marks: SVGPathElement[],
   *   line: SVGPathElement | null}} View
   */
  const SVG = 'http://www.w3.org/2000/svg'
  /** Units of a drawing to a px of its panels. */
  const OVER = 10
  /** With reduced motion, playing goes from moment to moment, so long apart. */
  const MOMENT_MS = 2500

  /** Row in force at a time: the last one not later.
   * @param {(number | null)[]} times @param {number} time_s */
  const rowAt = (times, time_s) => {
    let low = 0
    let high = times.length - 1
    while (low < high) {
      const middle = (low + high + 1) >> 1
      if (Number(times[middle]) <= time_s + 1e-6) low = middle
      else high = middle - 1
    }
    return low
  }

  /** A column of a policy at a time, on a straight line between rows; NaN where there is none.
   * @param {Policy} policy @param {string} column @param {number} time_s */
  const valueAt = (policy, column, time_s) => {
    const times = policy.columns.time_s
    const row = rowAt(times, time_s)
    const here = policy.columns[column][row]
    const next = policy.columns[column][row + 1]
    if (here === null || here === undefined) return NaN
    const from = Number(times[row])
    if (next === null || next === undefined || time_s <= from) return here
    return here + ((next - here) * (time_s - from)) / (Number(times[row + 1]) - from)
  }

  /** @param {Scale} scale @param {number} x @param {number} y */
  const place = (scale, x, y) => {
    const [left, top, right, bottom] = scale.box_px
    const px = left + ((x - scale.x[0]) / (scale.x[1] - scale.x[0])) * (right - left)
    const py = bottom - ((y - scale.y[0]) / (scale.y[1] - scale.y[0])) * (bottom - top)
    return [px * OVER, py * OVER]
  }

  /** The outline of a mark around 0, 0. @param {string} shape @param {number} r */
  const outline = (shape, r) => {
    switch (shape) {
      case 'square': case 'frame': return `M${-r} ${-r}H${r}V${r}H${-r}z`
      case 'up': case 'hollow': return `M0 ${-1.2 * r}L${1.15 * r} ${0.9 * r}H${-1.15 * r}z`
      case 'down': return `M0 ${1.2 * r}L${1.15 * r} ${-0.9 * r}H${-1.15 * r}z`
      case 'diamond': case 'lozenge': return `M0 ${-1.35 * r}L${1.35 * r} 0L0 ${1.35 * r}L${-1.35 * r} 0z`
      case 'cross': return `M${-r} ${-r}L${r} ${r}M${r} ${-r}L${-r} ${r}`
      case 'plus': return `M${-r} 0H${r}M0 ${-r}V${r}`
      default: return `M${-r} 0a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0z`
    }
  }

  /** @param {Element} parent @param {Record<string, string>} attributes */
  const path = (parent, attributes) => {
    const made = document.createElementNS(SVG, 'path')
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value)
    parent.append(made)
    return made
  }

  /** Columns drawn across and upwards in a panel. @param {string} key @returns {[string, string]} */
  const columnsOf = key => (key === 'plan' ? ['x_m', 'y_m'] : key === 'side' ? ['along_m', 'height_m'] : ['time_s', key])

  /** A layer of marks on the drawing of a panel. @param {Data} data @param {SVGSVGElement} svg @param {Scale} scale @returns {View} */
  const layer = (data, svg, scale) => {
    const group = document.createElementNS(SVG, 'g')
    group.setAttribute('aria-hidden', 'true')
    svg.append(group)
    const of = columnsOf(scale.key)
    const over_time = of[0] === 'time_s'
    const line = over_time ? path(group, { class: 'now-line', 'stroke-width': '14', fill: 'none' }) : null
    const steps = data.policies.map(policy => {
      let broken = true
      return policy.columns.time_s.map((_, row) => {
        const [x, y] = of.map(column => policy.columns[column][row])
        const was = broken
        broken = x === null || y === null
        if (broken) return ''
        const [px, py] = place(scale, Number(x), Number(y))
        return `${was ? 'M' : 'L'}${px.toFixed(0)} ${py.toFixed(0)}`
      })
    })
    const tracks = data.policies.map(policy => {
      const [on, off] = policy.dash_px
      const dash = off > 0 ? `${on * OVER} ${off * OVER}` : 'none'
      return path(group, { fill: 'none', stroke: `var(${policy.ink})`, 'stroke-width': over_time ? '24' : '32', 'stroke-dasharray': dash })
    })
    const marks = data.policies.map(policy => {
      const open = ['cross', 'plus', 'ring', 'frame', 'hollow'].includes(policy.shape)
      const colour = `var(${policy.ink})`
      return path(group, {
        d: outline(policy.shape, over_time ? 34 : 52),
        fill: open ? 'var(--paper)' : colour,
        stroke: open ? colour : 'var(--paper)',
        'stroke-width': open ? '22' : '12',
      })
    })
    // The first policy on top: it stands first in every list.
    ;[...marks].reverse().forEach(mark => group.append(mark))
    return { scale, of, steps, tracks, marks, line }
  }

  /** @param {HTMLElement} root */
  const player = root => {
    const source = root.querySelector('script.player-data')
    if (!source) return
    const data = /** @type {Data} */ (JSON.parse(source.textContent || ''))
    const [from_s, to_s] = data.window_s
    const part = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(name))
    const slider = /** @type {HTMLInputElement} */ (part('input[type=range]'))
    const speed = /** @type {HTMLSelectElement} */ (part('select'))
    const [toggle, clock, now] = [part('[data-do=play]'), part('.clock'), part('.now')]
    const cells = [...root.querySelectorAll('.readout tbody tr')].map(row => [...row.querySelectorAll('td')])
    const story = document.getElementById(root.dataset.story || '')
    const items = new Map([...(story ? story.querySelectorAll('li[data-number]') : [])].map(item => [Number(item.getAttribute('data-number')), item]))
    const still = window.matchMedia('(prefers-reduced-motion: reduce)')
    const views = [...root.querySelectorAll('[data-view]')].flatMap(figure => {
      const svg = figure.querySelector('svg')
      const keys = (figure.getAttribute('data-view') || '').split(' ')
      return svg ? data.scales.filter(scale => keys.includes(scale.key)).map(scale => layer(data, svg, scale)) : []
    })
    let time_s = data.lost_at_s === null ? from_s : data.lost_at_s
    /** @type {Moment | undefined} */
    let said
    /** @type {number | null} */
    let running = null
    let last_ms = 0

    const words = (/** @type {number} */ value, /** @type {number} */ digits) =>
      Number.isFinite(value) ? value.toFixed(digits).replace('-', '\u2212') : '\u2013'
    const clockWords = () => {
      if (data.lost_at_s === null) return `${words(time_s, 1)} s after take-off`
      const after = time_s - data.lost_at_s
      return `${words(time_s, 1)} s; ${words(Math.abs(after), 1)} s ${after < 0 ? 'before' : 'after'} the loss`
    }

    const show = () => {
      for (const view of views) {
        data.policies.forEach((policy, index) => {
          const [x, y] = view.of.map(column => (column === 'time_s' ? Math.min(time_s, Number(policy.columns.time_s.at(-1))) : valueAt(policy, column, time_s)))
          const there = Number.isFinite(x) && Number.isFinite(y)
          const row = rowAt(policy.columns.time_s, time_s)
          const here = there ? place(view.scale, x, y) : [0, 0]
          const steps = view.steps[index].slice(0, row + 1).join('')
          const tail = there && steps.endsWith(view.steps[index][row]) && view.steps[index][row] ? `L${here[0].toFixed(0)} ${here[1].toFixed(0)}` : ''
          view.tracks[index].setAttribute('d', steps + tail)
          view.marks[index].setAttribute('visibility', there ? 'visible' : 'hidden')
          view.marks[index].setAttribute('transform', `translate(${here[0].toFixed(1)} ${here[1].toFixed(1)})`)
        })
        if (view.line) {
          const [px] = place(view.scale, time_s, view.scale.y[0])
          view.line.setAttribute('d', `M${px.toFixed(1)} ${view.scale.box_px[1] * OVER}V${view.scale.box_px[3] * OVER}`)
        }
      }
      data.policies.forEach((policy, index) => {
        const row = rowAt(policy.columns.time_s, time_s)
        const ended = time_s >= Number(policy.columns.time_s.at(-1)) - 1e-6
        const values = [
          ended ? policy.outcome : data.doings[policy.doing[row]],
          ...['height_m', 'from_home_m', 'speed_mps', 'charge_pct'].map(column => words(valueAt(policy, column, time_s), column === 'speed_mps' ? 1 : 0)),
        ]
        values.forEach((value, cell) => { if (cells[index]) cells[index][cell].textContent = value })
      })
      slider.value = String(time_s)
      slider.setAttribute('aria-valuetext', clockWords())
      clock.textContent = clockWords()
      tell()
    }

    /** The sentences in force, once: of those of one time the first of each policy, or the one that holds for all. */
    const tell = () => {
      const from = data.moments.filter(moment => moment.time_s <= time_s + 1e-6).at(-1)
      const current = from ? data.moments.filter(moment => Math.abs(moment.time_s - from.time_s) < 1e-3) : []
      if (from === said) return
      said = from
      items.forEach((item, number) => {
        if (current.some(moment => moment.number === number)) item.setAttribute('aria-current', 'step')
        else item.removeAttribute('aria-current')
      })
      const shared = current.filter(moment => moment.policy === null)
      const first = current.filter((moment, at) => current.findIndex(other => other.policy === moment.policy) === at)
      const sentence = (/** @type {Moment} */ moment) =>
        `${moment.policy === null ? '' : `Under \u201c${data.policies[moment.policy].name}\u201d: `}${moment.text}`
      const told = (shared.length > 0 ? shared.slice(0, 1) : first).map(sentence).join(' ')
      now.textContent = from ? `${words(from.time_s, 1)} s. ${told}` : ''
    }

    const go = (/** @type {number} */ to) => { time_s = Math.min(to_s, Math.max(from_s, to)); show() }
    const stop = () => {
      if (running !== null) { cancelAnimationFrame(running); clearTimeout(running) }
      running = null
      toggle.textContent = 'Play'
    }
    const jump = (/** @type {number} */ way) => {
      const times = data.moments.map(moment => moment.time_s)
      const next = way > 0 ? times.find(at => at > time_s + 0.05) : times.filter(at => at < time_s - 0.05).at(-1)
      go(next === undefined ? (way > 0 ? to_s : from_s) : next)
    }
    const tick = (/** @type {number} */ at_ms) => {
      go(time_s + Math.min((at_ms - last_ms) / 1000, 0.25) * Number(speed.value))
      last_ms = at_ms
      if (time_s >= to_s) stop()
      else running = requestAnimationFrame(tick)
    }
    const leap = () => {
      jump(1)
      if (time_s >= to_s) stop()
      else running = window.setTimeout(leap, MOMENT_MS / Math.max(1, Number(speed.value) / 4))
    }
    const play = () => {
      if (time_s >= to_s) go(from_s)
      toggle.textContent = 'Pause'
      if (still.matches) { leap(); return }
      last_ms = performance.now()
      running = requestAnimationFrame(tick)
    }
    const turn = () => (running === null ? play() : stop())
    /** @type {Record<string, () => void>} */
    const doings = {
      play: turn,
      back: () => { stop(); go(time_s - 1) },
      on: () => { stop(); go(time_s + 1) },
      previous: () => { stop(); jump(-1) },
      next: () => { stop(); jump(1) },
    }
    root.querySelectorAll('[data-do]').forEach(button => button.addEventListener('click', () => doings[button.getAttribute('data-do') || '']()))
    slider.addEventListener('input', () => { stop(); go(Number(slider.value)) })
    root.addEventListener('keydown', event => {
      const target = /** @type {HTMLElement} */ (event.target)
      if (event.ctrlKey || event.altKey || event.metaKey || target.tagName === 'SELECT') return
      /** @type {Record<string, string>} */
      const keys = { ',': 'back', '.': 'on', p: 'previous', n: 'next', ...(target.tagName === 'BUTTON' ? {} : { ' ': 'play' }) }
      const what = keys[event.key]
      if (!what) return
      event.preventDefault()
      doings[what]()
    })
    // Times in the story become buttons that go there.
    for (const when of story ? story.querySelectorAll('span.when[data-time]') : []) {
      const button = document.createElement('button')
      button.type = 'button'
      button.className = 'when'
      button.textContent = when.textContent
      button.setAttribute('aria-label', `Go to ${when.textContent}`)
      button.addEventListener('click', () => { stop(); go(Number(when.getAttribute('data-time'))) })
      when.replaceWith(button)
    }
    root.querySelectorAll('[hidden]').forEach(part => part.removeAttribute('hidden'))
    show()
  }

  document.querySelectorAll('[data-player]').forEach(root => player(/** @type {HTMLElement} */ (root)))
})()
