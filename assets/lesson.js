// @ts-check
'use strict'

/**
 * The script of a lesson: predictions become buttons, an answer opens once one is chosen, and the page counts what was answered.
 * Nothing is stored and nothing is sent: what was chosen is forgotten when the page is closed.
 */
;(() => {
  /** What the learner has chosen, by chapter; only the first choice of each counts. @type {Map<HTMLElement, boolean>} */
  const answered = new Map()
  /** @type {HTMLElement[]} */
  const chapters = Array.from(document.querySelectorAll('.chapter'))
  const progress = document.getElementById('progress')
  const again = document.getElementById('again')
  if (!progress || !again) return
  document.documentElement.classList.add('scripted')

  /** @param {HTMLElement} chapter @returns {HTMLButtonElement[]} */
  const buttons = chapter => Array.from(chapter.querySelectorAll('.options button'))
  /** @param {HTMLElement} chapter @returns {HTMLDetailsElement | null} */
  const answer = chapter => chapter.querySelector('details.reveal')

  /** Says how many chapters are answered. */
  const count = () => {
    const right = Array.from(answered.values()).filter(Boolean).length
    const as = right === 1 ? 'prediction' : 'predictions'
    progress.textContent = answered.size === 0
      ? `None of ${chapters.length} chapters answered yet.`
      : `${answered.size} of ${chapters.length} chapters answered; ${right} ${as} as simulated.`
    again.hidden = answered.size === 0
    for (const chapter of chapters) {
      const mark = document.querySelector(`nav a[href="#${chapter.id}"] .mark`)
      if (mark) mark.textContent = answered.has(chapter) ? (answered.get(chapter) ? ' (as simulated)' : ' (answered)') : ''
    }
  }

  /** @param {HTMLElement} chapter @param {HTMLButtonElement} chosen */
  function choose(chapter, chosen) {
    const said = chapter.querySelector('.said')
    const opened = answer(chapter)
    if (answered.has(chapter) || !said || !opened) return
    const right = chosen.dataset.right === 'true'
    answered.set(chapter, right)
    for (const button of buttons(chapter)) {
      button.setAttribute('aria-pressed', String(button === chosen))
      button.setAttribute('aria-disabled', 'true')
      if (button.dataset.right === 'true') button.classList.add('right')
    }
    const found = chapter.dataset.answer
    said.textContent = right
      ? `You predicted “${chosen.dataset.words}”: so it came out.`
      : `You predicted “${chosen.dataset.words}”; the simulation found “${found}”. Read why.`
    opened.open = true
    const summary = opened.querySelector('summary')
    if (summary) summary.textContent = 'The answer'
    count()
  }

  for (const chapter of chapters) {
    const items = Array.from(chapter.querySelectorAll('.options li'))
    items.forEach((item, index) => {
      if (!(item instanceof HTMLElement)) return
      const button = document.createElement('button')
      const words = (item.textContent || '').trim()
      button.type = 'button'
      button.dataset.right = item.dataset.right
      button.dataset.words = words
      button.setAttribute('aria-pressed', 'false')
      const key = document.createElement('kbd')
      key.textContent = String(index + 1)
      key.setAttribute('aria-hidden', 'true')
      button.append(key, ` ${words}`)
      button.addEventListener('click', () => choose(chapter, button))
      item.replaceChildren(button)
    })
    const opened = answer(chapter)
    const summary = opened && opened.querySelector('summary')
    if (summary) summary.textContent = 'The answer, without a prediction'
    // With the focus on one of the buttons a digit chooses, and the arrows go from one to the next.
    chapter.addEventListener('keydown', event => {
      const all = buttons(chapter)
      const at = all.findIndex(button => button === document.activeElement)
      if (at < 0 || event.ctrlKey || event.altKey || event.metaKey) return
      const step = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key]
      const digit = Number(event.key)
      if (step !== undefined) {
        all[(at + step + all.length) % all.length].focus()
        event.preventDefault()
      } else if (Number.isInteger(digit) && digit >= 1 && digit <= all.length) {
        all[digit - 1].focus()
        choose(chapter, all[digit - 1])
      }
    })
  }

  again.addEventListener('click', () => {
    answered.clear()
    for (const chapter of chapters) {
      const said = chapter.querySelector('.said')
      const opened = answer(chapter)
      if (said) said.textContent = ''
      if (opened) {
        opened.open = false
        const summary = opened.querySelector('summary')
        if (summary) summary.textContent = 'The answer, without a prediction'
      }
      for (const button of buttons(chapter)) {
        button.setAttribute('aria-pressed', 'false')
        button.removeAttribute('aria-disabled')
        button.classList.remove('right')
      }
    }
    count()
    chapters[0]?.scrollIntoView()
  })

  count()
})()
