// Works the live page of the program: sliders, the handle on the path, play and step, bookmarks, saving, paper, a phone, the dark, the
// accessibility checker, and what the page says once the program has ended.
//   node live.mjs LOSTLINK SCENARIO [PICTURES]     starts `LOSTLINK serve SCENARIO` itself
import { chromium } from 'playwright-core'
import { spawn } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const [program, scenario, pictures] = process.argv.slice(2)
if (!scenario) throw new Error('usage: node live.mjs LOSTLINK SCENARIO [PICTURES]')
if (pictures) mkdirSync(pictures, { recursive: true })
let failures = 0
let checks = 0
const check = (good, text) => { checks += 1; if (!good) { failures += 1; console.log(`FAILED ${text}`) } }

// Fewer flights than shipped: what is asked here does not need more, and it is asked often.
const folder = mkdtempSync(join(tmpdir(), 'lostlink-live-'))
const file = join(folder, 'scenario.toml')
writeFileSync(file, readFileSync(scenario, 'utf8').replace(/^flights = \d+/m, 'flights = 200'))

// The program says on which port it listens; it ends with this test whatever happens.
const servers = []
process.on('exit', () => { servers.forEach(server => server.kill('SIGKILL')); rmSync(folder, { recursive: true }) })
const serve = port => new Promise((found, failed) => {
  const server = spawn(program, ['serve', file, '--port', port], { stdio: ['ignore', 'pipe', 'pipe'] })
  servers.push(server)
  let said = ''
  const listen = chunk => {
    said += chunk
    const match = said.match(/http:\/\/127\.0\.0\.1:\d+/)
    if (match) found({ server, origin: match[0] })
  }
  server.stdout.on('data', listen)
  server.stderr.on('data', listen)
  server.on('exit', code => failed(new Error(`serve ended with ${code}: ${said}`)))
  setTimeout(() => failed(new Error(`serve says no address: ${said}`)), 10000).unref()
})
const { server, origin } = await serve('0')

const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox'] })
const open = async (hash = '', options = {}) => {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, ...options })
  const noise = []
  page.on('console', message => { if (['error', 'warning'].includes(message.type())) noise.push(message.text()) })
  page.on('pageerror', error => noise.push(String(error)))
  page.on('request', request => {
    if (!request.url().startsWith(`${origin}/`) && !request.url().startsWith('data:')) noise.push(`request: ${request.url()}`)
  })
  await page.goto(`${origin}/${hash}`)
  await page.locator('.many table').waitFor({ timeout: 10000 })
  return { page, noise }
}
const progress = page => page.textContent('.progress span')
const final = page => page.waitForFunction(() => /^Final/.test(document.querySelector('.progress span').textContent), null, { timeout: 15000 })
const numbers = page => page.$$eval('.many tbody tr', rows => rows.map(row => row.textContent).join('\n'))
const tracks = page => page.$$eval('.plan .over .ahead', paths => paths.map(path => path.getAttribute('d')).join(' '))
const hash_has = (page, text) => page.waitForFunction(text => location.hash.includes(text), text, { timeout: 3000 })
const time_s = page => page.$eval('.player .time', slider => Number(slider.value))
const handle = page => page.getByRole('slider', { name: 'Place where the link is cut' })
const cut_m = async page => Number(await handle(page).getAttribute('aria-valuenow'))
const violations = async (page, where) => {
  await page.evaluate(axe)
  const found = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], preload: false, selectors: false }))
  check(found.violations.length === 0, `${where}: ${found.violations.map(({ id, help, nodes }) => `${id}: ${help}; ${nodes[0].html.slice(0, 140)}`).join(' | ')}`)
}
const picture = async (page, name) => { if (pictures) await page.screenshot({ path: join(pictures, `live-${name}.png`), fullPage: true }) }

// The first numbers, then the last ones, and the answer.
const { page, noise } = await open('', { permissions: ['clipboard-read', 'clipboard-write'] })
await final(page)
const first = await numbers(page)
check((await page.textContent('h1')).length > 5 && (await page.title()).includes('live'), 'the page has its title')
check(await page.isVisible('.caution'), 'the caution stands on top')
check((await page.textContent('.many .answer')).length > 10, 'the answer stands there after the last flight')
check((await page.$$('.plan .over .ahead')).length === (await page.$$('.beside tbody tr')).length, 'a way per policy on the plan')
check((await page.$$eval('.side .ahead', paths => paths.filter(path => path.getAttribute('d') !== '').length)) > 0, 'ways from the side')
check(!/\bsafe\b/i.test(await page.textContent('body')), 'no word that promises')
check((await page.evaluate(async () => { await document.fonts.ready; return [...document.fonts].map(({ status }) => status).join() })) === 'loaded,loaded', 'its own fonts are loaded')
await violations(page, 'at first')
await picture(page, 'wide')

// A slider by keyboard: the flight is another, the shares are said to be of before or preliminary, then final.
const wind = page.locator('#slider-wind_mps')
const told = await page.textContent('.flight h2')
const ways = await tracks(page)
const seen = await page.evaluate(() => {
  const words = []
  new MutationObserver(() => {
    const now = document.querySelector('.progress span').textContent
    if (words.at(-1) !== now) words.push(now)
  }).observe(document.querySelector('.progress'), { subtree: true, childList: true, characterData: true })
  window.words = words
  return words.length
})
check(seen === 0, 'nothing moves by itself')
await wind.focus()
for (let count = 0; count < 8; count += 1) await page.keyboard.press('ArrowRight')
check(Number(await page.inputValue('input[aria-label^="Mean wind"]')) > 0, 'the number beside the slider follows')
await hash_has(page, 'wind_mps=')
await final(page)
const windy = await numbers(page)
check(windy !== first, 'other wind, other shares')
check((await tracks(page)) !== ways, 'other wind, other ways')
check((await page.textContent('.flight h2')) === told, 'the flight that is seen stays the same')
const words = await page.evaluate(() => window.words)
check(words.some(text => text.startsWith('What is set has changed')), `what is on its way is said: ${words}`)
check(words.some(text => text.startsWith('Preliminary')), `first numbers come before the last: ${words}`)
const windy_hash = await page.evaluate(() => location.hash)

// A bookmark: the same state gives the same numbers; back goes to the scenario.
const again = await open(windy_hash)
await final(again.page)
check((await numbers(again.page)) === windy, 'a bookmark gives the same numbers')
check((await again.page.inputValue('#slider-wind_mps')) === (await wind.inputValue()), 'and the same slider')
check(again.noise.length === 0, `bookmark: ${again.noise}`)
await again.page.close()
await page.goBack()
await final(page)
check((await numbers(page)) === first, 'back: the numbers of the scenario')
await page.goForward()
await final(page)
check((await numbers(page)) === windy, 'forward: those of the wind')

// Typed: taken when it is in the range, refused in words when not.
const typed = page.locator('input[aria-label^="Mean wind"]')
await typed.fill('1234')
check((await typed.getAttribute('aria-invalid')) === 'true', 'a number out of the range is refused')
check(/from 0 to \d+\sm\/s/.test(await page.textContent('#note-wind_mps')), 'and the range is said')
await typed.fill('3')
check((await page.inputValue('#slider-wind_mps')) === '3', 'a number in it moves the slider')

// Save: the scenario's own text with the key changed.
await hash_has(page, 'wind_mps=3')
const [saved] = await Promise.all([page.waitForEvent('download'), page.click('text=Save scenario')])
const toml = readFileSync(await saved.path(), 'utf8')
check(/wind_mps = 3(\.0)?\b/.test(toml) && saved.suggestedFilename().endsWith('.toml'), `saved as ${saved.suggestedFilename()}`)
check(toml.includes('#') && toml.includes('[[policy]]'), 'with its comments and policies')

await page.click('text=Copy link')
await page.locator('text=Link copied.').waitFor({ timeout: 3000 })
check((await page.evaluate(() => navigator.clipboard.readText())) === page.url(), 'the link is copied')

// A second move ends the first: of many requests all but the last are broken off.
// (Asked of the page: the browser reports every stream that was read bit by bit as broken off.)
await page.evaluate(() => {
  const fetch = window.fetch
  window.asked = []
  window.fetch = (path, init) => {
    if (path.includes('/api/shares')) window.asked.push(init.signal)
    return fetch(path, init)
  }
})
await page.locator('#slider-patience_s').focus()
for (let count = 0; count < 10; count += 1) { await page.keyboard.press('ArrowRight'); await page.waitForTimeout(40) }
await final(page)
const ended_early = await page.evaluate(() => window.asked.map(signal => signal.aborted))
check(ended_early.length >= 2 && ended_early.length <= 10, `${ended_early.length} requests while the slider moves`)
check(ended_early.slice(0, -1).every(Boolean), `all but the last are broken off: ${ended_early}`)
check(ended_early.at(-1) === false, 'the last is not')
await page.click('text=Reset all')
await final(page)
check((await numbers(page)) === first, 'reset: the numbers of the scenario')

// The handle: by keyboard, by mouse; then the radio decides.
await handle(page).focus()
const rest = await cut_m(page)
for (let count = 0; count < 5; count += 1) await page.keyboard.press('ArrowRight')
await hash_has(page, 'cut_m=')
check((await cut_m(page)) > rest, `the handle moves by keyboard: ${rest} to ${await cut_m(page)}`)
await page.keyboard.press('Home')
check((await cut_m(page)) <= 1, 'Home goes to the start of the path')
for (let count = 0; count < 3; count += 1) await page.keyboard.press('PageUp')
const by_key = await cut_m(page)
const ring = await handle(page).locator('.ring').boundingBox()
const [x, y] = [ring.x + ring.width / 2, ring.y + ring.height / 2]
await page.mouse.move(x, y)
await page.mouse.down()
for (let count = 1; count <= 8; count += 1) await page.mouse.move(x - 5 * count, y + 3 * count)
await page.mouse.up()
const by_mouse = await cut_m(page)
check(by_mouse !== by_key, `the handle moves by mouse: ${by_key} to ${by_mouse}`)
await hash_has(page, `cut_m=${by_mouse}`)
check((await page.inputValue('#slider-cut_m')) === String(by_mouse), 'its slider goes along')
await final(page)
const at_place = await numbers(page)
check(at_place !== first, 'a place of its own, shares of its own')
await page.getByRole('button', { name: 'Let the radio decide' }).click()
await hash_has(page, 'cut_m=radio')
await final(page)
check((await numbers(page)) !== at_place, 'the radio decides otherwise')
check((await page.getAttribute('text=Let the radio decide', 'aria-pressed')) === 'true', 'and the page says so')
await page.getByRole('button', { name: 'As the scenario says' }).click()
await page.click('text=A typical flight')
await page.waitForFunction(() => location.hash === '')
await final(page)
check((await numbers(page)) === first, 'as the scenario says: its numbers')

// Play, pause, step; a sentence is heard only once it stands.
const end = await time_s(page)
await page.selectOption('.player select', '10')
await page.click('.player .play')
check((await page.textContent('.player .play')) === 'Pause', 'while it plays the button pauses')
await page.waitForFunction(end => Number(document.querySelector('.player .time').value) < end - 1, end, { timeout: 3000 })
await page.waitForTimeout(300)
await page.click('.player .play')
const paused = await time_s(page)
await page.waitForTimeout(200)
check((await time_s(page)) === paused && paused < end, `paused it stands still: ${paused} of ${end}`)
await page.click('text=+1 s')
check(Math.abs((await time_s(page)) - paused - 1) < 0.11, 'a step on is a second')
await page.click('text=Previous moment')
const moment = await time_s(page)
check(moment < paused + 1, 'a moment before')
await page.click('text=Next moment')
check((await time_s(page)) > moment, 'and the next one')
await page.waitForFunction(() => document.querySelector('.player .heard').textContent === document.querySelector('.player .now').textContent, null, { timeout: 3000 })
check(/^\d[\d,.]* s\. ./.test(await page.textContent('.player .heard')), `the sentence is heard: ${await page.textContent('.player .heard')}`)
await page.focus('.player .time')
const slid = await time_s(page)
await page.keyboard.press('ArrowLeft')
check((await time_s(page)) < slid, 'an arrow moves the time')
await violations(page, 'while it stands in the middle')

// By keyboard alone: skip link, handle, buttons, sliders, in this order, all with a visible focus.
await page.focus('.skip')
const stops = []
for (let count = 0; count < 34; count += 1) {
  await page.keyboard.press('Tab')
  stops.push(await page.evaluate(() => {
    const at = document.activeElement
    const ring = at.querySelector('.focus')
    const shown = ring ? getComputedStyle(ring).stroke !== 'none' : getComputedStyle(at).outlineStyle !== 'none'
    return { name: at.getAttribute('aria-label') || at.className || at.textContent, shown }
  }))
}
check(stops.every(({ shown }) => shown), `focus is seen: ${JSON.stringify(stops.filter(({ shown }) => !shown))}`)
const order = ['Place where', 'play', 'Mean wind'].map(name => stops.findIndex(stop => stop.name.startsWith(name)))
check(order.every((at, index) => at >= 0 && (index === 0 || at > order[index - 1])), `in the order of the page: ${JSON.stringify(stops.map(({ name }) => name))}`)

// Paper: what is set as a table, no control, one sheet or two.
await page.evaluate(() => { location.hash = '#height_m=40' })
await final(page)
await page.emulateMedia({ media: 'print' })
check(await page.isVisible('.settings table') && /40\sm/.test(await page.textContent('.settings table')), 'on paper the settings are a table')
for (const gone of ['.handle', '.player', '.settings input', 'button']) check((await page.locator(gone).first().isVisible()) === false, `not on paper: ${gone}`)
const sheets = ((await page.pdf({ format: 'A4', printBackground: true, preferCSSPageSize: true })).toString('latin1').match(/\/Type\s*\/Page[^s]/g) || []).length
check(sheets <= 2, `${sheets} sheets of paper`)
await page.emulateMedia({ media: null })

// A state that is none is refused in words, with a way out.
await page.evaluate(() => { location.hash = '#height_m=-5' })
await page.locator('.trouble').waitFor({ timeout: 3000 })
check(/accepted/.test(await page.textContent('.trouble')), `refused: ${await page.textContent('.trouble')}`)
await page.click('.trouble >> text=Reset all')
await final(page)
check((await page.locator('.trouble').count()) === 0, 'and mended')
noise.splice(0, noise.length, ...noise.filter(text => !text.includes('400')))
check(noise.length === 0, `noise: ${noise}`)

// On a phone, in the dark, and without motion.
const phone = await open('', { viewport: { width: 380, height: 760 }, colorScheme: 'dark', reducedMotion: 'reduce', hasTouch: true })
await final(phone.page)
const size = await phone.page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth])
check(size[0] <= size[1], `380 px: ${size}`)
const small = await phone.page.$$eval('button, select, input, a.button', nodes => nodes.filter(node => { const box = node.getBoundingClientRect(); return box.width > 0 && (box.width < 19 || box.height < 19) }).map(node => node.outerHTML.slice(0, 80)))
check(small.length === 0, `380 px: too small to touch: ${small}`)
check((await phone.page.evaluate(() => getComputedStyle(document.body).backgroundColor)) === 'rgb(20, 24, 29)', 'dark ground')
await violations(phone.page, 'dark, on a phone')
const moments = await phone.page.$$eval('.flight li', items => items.map(item => parseFloat(item.textContent.replace(',', ''))).filter(Number.isFinite))
const last = await time_s(phone.page)
await phone.page.selectOption('.player select', '40')
await phone.page.click('.player .play')
const steps = new Set()
for (let count = 0; count < 10; count += 1) { steps.add(await time_s(phone.page)); await phone.page.waitForTimeout(60) }
check(steps.size >= 2 && [...steps].every(at => [...moments, last].some(moment => Math.abs(moment - at) < 0.11)), `without motion from moment to moment: ${[...steps]}`)
await picture(phone.page, 'phone')
check(phone.noise.length === 0, `phone: ${phone.noise}`)

// The program ends: the page says so, keeps what is set and offers to try again.
const ended = new Promise(done => server.on('exit', done))
server.kill('SIGTERM')
await Promise.race([ended, new Promise((_, failed) => setTimeout(() => failed(new Error('serve does not end')), 3000).unref())])
await wind.focus()
await page.keyboard.press('ArrowRight')
await page.locator('.trouble').waitFor({ timeout: 3000 })
check(/does not answer/.test(await page.textContent('.trouble')), `said: ${await page.textContent('.trouble')}`)
check(await page.getByRole('button', { name: 'Retry' }).isVisible() && await page.isVisible('.many table'), 'it can be tried again, and what was seen stays')
await serve(new URL(origin).port)
await page.getByRole('button', { name: 'Retry' }).click()
await final(page)
check((await page.locator('.trouble').count()) === 0, 'started again it answers')

await browser.close()
console.log(`live page: ${checks} checks, ${failures} failed`)
process.exit(failures ? 1 : 0)
