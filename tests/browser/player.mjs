// Plays the pages of lost links: play, pause, step, slide, moments, keyboard, speed, reduced motion, no script, a phone, and the
// accessibility checker while it plays.
//   node player.mjs FOLDER     plays every story-*.html in FOLDER
import { chromium } from 'playwright-core'
import { readFileSync, readdirSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { createRequire } from 'node:module'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const [folder] = process.argv.slice(2)
if (!folder) throw new Error('usage: node player.mjs FOLDER')
const pages = readdirSync(folder).filter(name => /^story-.*\.html$/.test(name)).sort()
if (pages.length === 0) throw new Error(`${folder} holds no story`)
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox'] })
let failures = 0
let checks = 0
const check = (good, text) => { checks += 1; if (!good) { failures += 1; console.log(`FAILED ${text}`) } }

const open = async (name, options) => {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, ...options })
  const noise = []
  page.on('console', message => { if (['error', 'warning'].includes(message.type())) noise.push(message.text()) })
  page.on('pageerror', error => noise.push(String(error)))
  page.on('request', request => { if (!/^(file|data|blob):/.test(request.url())) noise.push(request.url()) })
  await page.goto('file://' + resolve(join(folder, name)))
  return { page, noise }
}
const time = page => page.$eval('.player input[type=range]', slider => Number(slider.value))
const now = page => page.$eval('.player .now', node => node.textContent)
// Where the marks of a view stand, one per policy.
const marks = (page, view) => page.$$eval(`[data-view="${view}"] svg > g[aria-hidden] path[transform]`, nodes => nodes.map(node => node.getAttribute('transform')))
const data = page => page.$eval('script.player-data', node => JSON.parse(node.textContent))
const press = (page, what) => page.click(`[data-do=${what}]`)

for (const name of pages) {
  const { page, noise } = await open(name, {})
  const told = await data(page)
  const [from, to] = told.window_s
  check(Math.abs((await time(page)) - told.lost_at_s) < 0.11, `${name}: begins at the loss`)

  // Slide: to the start, to the end; the views and the table follow.
  const slide = to_s => page.$eval('.player input[type=range]', (slider, to_s) => { slider.value = to_s; slider.dispatchEvent(new Event('input', { bubbles: true })) }, to_s)
  await slide(from)
  const first = await marks(page, 'plan')
  check(first.length === told.policies.length, `${name}: a mark per policy`)
  check(new Set(first).size === 1, `${name}: before the loss all stand at one place: ${first}`)
  await slide(to)
  const last = await marks(page, 'plan')
  check(last.some((at, index) => at !== first[index]), `${name}: the marks have moved`)
  const outcomes = await page.$$eval('.readout tbody tr td:nth-child(2)', cells => cells.map(cell => cell.textContent))
  check(outcomes.join() === told.policies.map(policy => policy.outcome).join(), `${name}: the table tells the ends: ${outcomes}`)
  // Where a mark stands is where its data say, by the scale of the panel.
  const scale = told.scales.find(scale => scale.key === 'side')
  for (const [index, policy] of told.policies.entries()) {
    const [x, y] = ['along_m', 'height_m'].map(column => policy.columns[column].at(-1))
    const px = 10 * (scale.box_px[0] + (x - scale.x[0]) / (scale.x[1] - scale.x[0]) * (scale.box_px[2] - scale.box_px[0]))
    const py = 10 * (scale.box_px[3] - (y - scale.y[0]) / (scale.y[1] - scale.y[0]) * (scale.box_px[3] - scale.box_px[1]))
    // Marks lie in reverse order, the first on top.
    const at = (await marks(page, 'side')).reverse()[index]
    check(at === `translate(${px.toFixed(1)} ${py.toFixed(1)})`, `${name}: ${policy.name} stands at ${at} instead of ${px}, ${py}`)
  }

  // Step, and from moment to moment.
  await slide(told.lost_at_s)
  const lost = await time(page)
  await press(page, 'on')
  check(Math.abs((await time(page)) - lost - 1) < 0.11, `${name}: a step on is a second`)
  await press(page, 'back')
  await press(page, 'back')
  check(Math.abs((await time(page)) - lost + 1) < 0.21, `${name}: a step back is a second`)
  await slide(from)
  const seen = []
  for (let count = 0; count < 200 && (await time(page)) < to - 0.1; count += 1) {
    await press(page, 'next')
    seen.push(await time(page))
  }
  const times = [...new Set(told.moments.map(moment => moment.time_s))]
  check(seen.length >= Math.min(times.length, 5) - 1 && seen.every((at, index) => index === 0 || at > seen[index - 1]), `${name}: moments in order: ${seen}`)
  check((await now(page)).length > 20, `${name}: the last moment is told`)
  await press(page, 'previous')
  check((await time(page)) < to, `${name}: and back again`)
  check((await page.$$('#loss-story li[aria-current]')).length > 0, `${name}: the sentence is marked in the story`)

  // A time in the story goes there.
  const button = page.locator('#loss-story button.when').nth(4)
  const wanted = parseFloat(await button.textContent())
  await button.click()
  check(Math.abs((await time(page)) - wanted) < 0.11, `${name}: a time in the story goes there`)

  // Play, pause, speed.
  await slide(told.lost_at_s)
  await page.selectOption('.player select', '10')
  await press(page, 'play')
  check((await page.textContent('[data-do=play]')) === 'Pause', `${name}: while it plays the button pauses`)
  await page.waitForFunction(lost => Number(document.querySelector('.player input[type=range]').value) > lost + 0.5, told.lost_at_s, { timeout: 5000 })
  await press(page, 'play')
  const paused = await time(page)
  await page.waitForTimeout(250)
  check((await time(page)) === paused, `${name}: paused it stands still`)
  await page.selectOption('.player select', '40')
  await slide(to - 5)
  await press(page, 'play')
  await page.waitForFunction(() => document.querySelector('[data-do=play]').textContent === 'Play', null, { timeout: 5000 })
  check(Math.abs((await time(page)) - to) < 0.11, `${name}: it plays to the end and stops`)

  // Keyboard alone: tab to the slider, arrows, space, comma and full stop, next moment.
  await slide(told.lost_at_s)
  await page.focus('.player input[type=range]')
  const before = await time(page)
  await page.keyboard.press('ArrowRight')
  check((await time(page)) > before, `${name}: an arrow moves the slider`)
  await page.keyboard.press('.')
  check((await time(page)) > before + 0.9, `${name}: full stop steps on`)
  await page.keyboard.press(',')
  await page.keyboard.press('n')
  check((await time(page)) > before, `${name}: n goes to the next moment`)
  await page.keyboard.press(' ')
  check((await page.textContent('[data-do=play]')) === 'Pause', `${name}: space plays`)
  await page.keyboard.press(' ')
  check((await page.textContent('[data-do=play]')) === 'Play', `${name}: space pauses`)
  const reached = []
  await page.focus('[data-do=play]')
  for (let count = 0; count < 8; count += 1) {
    reached.push(await page.evaluate(() => document.activeElement.tagName))
    await page.keyboard.press('Tab')
  }
  check(['BUTTON', 'SELECT', 'INPUT'].every(tag => reached.includes(tag)), `${name}: all controls by tab: ${reached}`)
  check((await page.getAttribute('.player .now', 'aria-live')) === 'polite', `${name}: the sentence is a live region`)
  check((await page.getAttribute('.player input[type=range]', 'aria-valuetext')).includes('the loss'), `${name}: the slider says its time`)

  await page.evaluate(axe)
  const found = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], preload: false, selectors: false }))
  for (const violation of found.violations) check(false, `${name}: ${violation.id}: ${violation.help}; ${violation.nodes[0].html.slice(0, 160)}`)
  check(noise.length === 0, `${name}: ${noise}`)
  await page.close()

  // Reduced motion: nothing glides, playing goes from moment to moment.
  const calm = await open(name, { reducedMotion: 'reduce' })
  await calm.page.selectOption('.player select', '40')
  await press(calm.page, 'play')
  const steps = new Set()
  const began = Date.now()
  for (let count = 0; count < 12; count += 1) { steps.add(await time(calm.page)); await calm.page.waitForTimeout(60) }
  check([...steps].every(at => [...times, to].some(moment => Math.abs(moment - at) < 0.11)), `${name}: with reduced motion only moments are shown: ${[...steps]}`)
  // At 40 times a moment stays for 250 ms.
  check(steps.size >= 2 && steps.size <= (Date.now() - began) / 250 + 3, `${name}: one after the other: ${[...steps]}`)
  await calm.page.close()

  // Without script: no control, key moments and the story.
  const plain = await open(name, { javaScriptEnabled: false })
  check(!(await plain.page.isVisible('.player .controls')), `${name}: without script no control`)
  check(await plain.page.isVisible('#figure-loss-moments .desk svg'), `${name}: without script the key moments are there`)
  check((await plain.page.locator('#loss-story li').count()) > 10, `${name}: and the story`)
  check(await plain.page.isVisible('[data-view=plan] svg'), `${name}: and the plan`)
  await plain.page.close()

  // On a phone.
  const phone = await open(name, { viewport: { width: 380, height: 700 } })
  const size = await phone.page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth])
  check(size[0] <= size[1], `${name} at 380 px: ${size}`)
  const small = await phone.page.$$eval('.player button, .player select, .player input', nodes => nodes.map(node => node.getBoundingClientRect()).filter(box => box.height < 24 || box.width < 24).length)
  check(small === 0, `${name} at 380 px: controls are large enough to touch`)
  await press(phone.page, 'on')
  check(Math.abs((await time(phone.page)) - told.lost_at_s - 1) < 0.11, `${name} at 380 px: it steps`)
  await phone.page.close()
}
await browser.close()
console.log(`${pages.length} stories played, ${checks} checks, ${failures} failed`)
process.exit(failures ? 1 : 0)
