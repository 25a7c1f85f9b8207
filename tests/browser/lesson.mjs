// Learns from the lesson page that `cargo test --test outputs` wrote: predicts by mouse and by keyboard, begins again, reads it without
// script, on a phone and on paper; axe once an answer is open.
//   node lesson.mjs FOLDER
import { chromium } from 'playwright-core'
import { existsSync, readFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { createRequire } from 'node:module'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const [folder] = process.argv.slice(2)
if (!folder) throw new Error('usage: node lesson.mjs FOLDER')
const file = join(folder, 'lesson.html')
if (!existsSync(file)) throw new Error(`${file} is not there`)
const url = 'file://' + resolve(file)
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox'] })
let failures = 0
let checks = 0
const check = (good, text) => { checks += 1; if (!good) { failures += 1; console.log(`FAILED ${text}`) } }

async function opened(options = {}) {
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 }, ...options })
  page.on('console', message => { if (['error', 'warning'].includes(message.type())) check(false, `console: ${message.text()}`) })
  page.on('pageerror', error => check(false, `page: ${error}`))
  page.on('request', request => { if (!/^(file|data|blob):/.test(request.url())) check(false, `request: ${request.url()}`) })
  await page.goto(url)
  return page
}
const progress = page => page.locator('#progress').textContent()
const isOpen = (page, number) => page.locator(`#chapter-${number} details.reveal`).evaluate(node => node.open)

// With the mouse: a wrong prediction, then another that no longer counts.
{
  const page = await opened()
  const chapters = await page.locator('.chapter').count()
  check(chapters === 3, `${chapters} chapters`)
  check(await progress(page) === 'None of 3 chapters answered yet.', `at first: ${await progress(page)}`)
  check(!await isOpen(page, 1), 'the answer is closed at first')
  const wrong = page.locator('#chapter-1 .options button[data-right="false"]').first()
  const right = page.locator('#chapter-1 .options button[data-right="true"]')
  await wrong.click()
  check(await isOpen(page, 1), 'a prediction opens the answer')
  const said = await page.locator('#chapter-1 .said').textContent()
  const answer = await page.locator('#chapter-1').getAttribute('data-answer')
  check(said.includes(`the simulation found “${answer}”`), `said: ${said}`)
  check(await wrong.getAttribute('aria-pressed') === 'true', 'the choice is marked')
  check(await progress(page) === '1 of 3 chapters answered; 0 predictions as simulated.', `after one: ${await progress(page)}`)
  await right.click({ force: true })
  check(await right.getAttribute('aria-pressed') === 'false', 'the first choice counts')
  // The loss of the first chapter plays.
  await page.locator('#chapter-1 details.play > summary').click()
  check(await page.locator('#chapter-1 .player [data-do=play]').isVisible(), 'the player has its controls')
  check((await page.locator('nav a').first().textContent()).endsWith('(answered)'), 'the list of chapters says so')
  await page.evaluate(axe)
  for (const violation of (await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], preload: false, selectors: false }))).violations) {
    check(false, `${violation.id}: ${violation.help}; ${violation.nodes.slice(0, 3).map(node => node.html.slice(0, 120)).join(' | ')}`)
  }
  // Begin again, and loading again, forget it.
  await page.locator('#again').click()
  check(await progress(page) === 'None of 3 chapters answered yet.' && !await isOpen(page, 1), 'begun again')
  await right.click()
  check((await page.locator('#chapter-1 .said').textContent()).endsWith('so it came out.'), 'a right prediction is said to be one')
  await page.reload()
  check(await progress(page) === 'None of 3 chapters answered yet.', 'a page loaded again has forgotten')
  check(await page.evaluate(() => localStorage.length + sessionStorage.length + document.cookie.length) === 0, 'nothing is stored')
  await page.close()
}

// With the keyboard alone: to the first prediction by tab, to the next by arrow, a choice by digit and by enter.
{
  const page = await opened()
  const focus = () => page.evaluate(() => {
    const chapter = document.activeElement.closest('.chapter')
    return chapter && document.activeElement.tagName === 'BUTTON' ? `${chapter.id} ${[...chapter.querySelectorAll('.options button')].indexOf(document.activeElement)}` : ''
  })
  for (let stops = 0; stops < 20 && await focus() === ''; stops += 1) await page.keyboard.press('Tab')
  check(await focus() === 'chapter-1 0', `tab leads to ${await focus()}`)
  await page.keyboard.press('ArrowDown')
  check(await focus() === 'chapter-1 1', `the arrow leads to ${await focus()}`)
  await page.keyboard.press('ArrowUp')
  await page.keyboard.press('ArrowUp')
  check(await focus() === 'chapter-1 2', `the arrow goes round to ${await focus()}`)
  await page.keyboard.press('Digit2')
  check(await focus() === 'chapter-1 1' && await isOpen(page, 1), 'a digit chooses')
  await page.locator('#chapter-2 .options button').first().focus()
  await page.keyboard.press('Enter')
  check(await isOpen(page, 2), 'enter chooses')
  await page.locator('#chapter-3 summary').first().focus()
  await page.keyboard.press('Enter')
  check(await isOpen(page, 3), 'an answer opens without a prediction')
  check((await progress(page)).startsWith('2 of 3'), `then it does not count: ${await progress(page)}`)
  await page.close()
}

// A phone: big enough to touch, no wider than the screen with answers open.
{
  const page = await opened({ viewport: { width: 380, height: 700 }, hasTouch: true })
  const low = await page.locator('.options button').evaluateAll(all => all.map(node => node.getBoundingClientRect().height).filter(height => height < 44))
  check(low.length === 0, `buttons of ${low} px`)
  for (const number of [1, 2, 3]) await page.locator(`#chapter-${number} .options button`).first().tap()
  const size = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth])
  check(size[0] <= size[1], `${size[0]} px wide in ${size[1]}`)
  await page.close()
}

// Without script: questions, predictions, and answers to open; nothing that does nothing.
{
  const context = await browser.newContext({ javaScriptEnabled: false, viewport: { width: 1280, height: 800 } })
  const page = await context.newPage()
  await page.goto(url)
  check(await page.locator('button:visible').count() === 0, 'no button without script')
  check(await page.locator('.options li:visible').count() >= 9, 'the predictions are there')
  const why = page.locator('#chapter-1 details.reveal > p.kept').first()
  check(!await why.isVisible(), 'the answer is closed')
  await page.locator('#chapter-1 details.reveal > summary').click()
  check(await why.isVisible(), 'it opens')
  await context.close()
}

// On paper, with and without script: every answer is printed, buttons are boxes to tick.
for (const javaScriptEnabled of [true, false]) {
  const context = await browser.newContext({ javaScriptEnabled, viewport: { width: 703, height: 1032 } })
  const page = await context.newPage()
  await page.goto(url)
  await page.emulateMedia({ media: 'print' })
  const how = javaScriptEnabled ? 'with script' : 'without script'
  for (const number of [1, 2, 3]) {
    const box = await page.locator(`#chapter-${number} details.reveal > p.field`).boundingBox()
    check(box !== null && box.height > 10, `chapter ${number} on paper ${how}: what to do in the field`)
  }
  check(!await page.locator('#chapter-1 details.reveal > summary').isVisible(), `no summary on paper ${how}`)
  const pdf = await page.pdf({ format: 'A4', printBackground: true, preferCSSPageSize: true })
  const sheets = (pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g) || []).length
  check(sheets >= 3 && sheets <= 5, `${sheets} pages on paper ${how}`)
  await context.close()
}

await browser.close()
console.log(`lesson: ${checks} checks, ${failures} failed`)
process.exit(failures ? 1 : 0)
