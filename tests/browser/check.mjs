// Opens pages in Chromium at three widths and as print: no sideways scrolling, no error on the console, no request to
// anywhere, no finding of the accessibility checker, nothing cut on paper.
//   node check.mjs FOLDER [PICTURES]     checks every *.html in FOLDER; writes pictures when PICTURES is given
import { chromium } from 'playwright-core'
import { readFileSync, readdirSync, mkdirSync, writeFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { createRequire } from 'node:module'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const [folder, pictures] = process.argv.slice(2)
if (!folder) throw new Error('usage: node check.mjs FOLDER [PICTURES]')
if (pictures) mkdirSync(pictures, { recursive: true })
const pages = readdirSync(folder).filter(name => name.endsWith('.html')).sort()
if (pages.length === 0) throw new Error(`${folder} holds no page`)
const launch = () => chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox'] })
let failures = 0
let checks = 0
const check = (good, text) => { checks += 1; if (!good) { failures += 1; console.log(`FAILED ${text}`) } }

async function examine(browser, name) {
  // The page is read once: widths and schemes are its reader's to change while it is open.
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 }, colorScheme: 'light' })
  const noise = []
  const requests = []
  page.on('console', message => { if (['error', 'warning'].includes(message.type())) noise.push(message.text()) })
  page.on('pageerror', error => noise.push(String(error)))
  page.on('request', request => { if (!/^(file|data|blob):/.test(request.url())) requests.push(request.url()) })
  await page.goto('file://' + resolve(join(folder, name)))
  await page.evaluate(axe)
  for (const scheme of ['light', 'dark']) {
    await page.emulateMedia({ colorScheme: scheme })
    for (const width of scheme === 'light' ? [1280, 768, 380] : [1280, 380]) {
      await page.setViewportSize({ width, height: 800 })
      await page.evaluate(() => document.fonts.ready)
      const where = `${name} at ${width} px, ${scheme}`
      const size = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth])
      check(size[0] <= size[1], `${where}: ${size[0]} px wide in ${size[1]}`)
      // The table of the first screen is read whole, not pushed aside.
      const first = await page.evaluate(() => { const box = document.querySelector('table.short')?.parentElement; return box ? [box.scrollWidth, box.clientWidth] : [0, 0] })
      check(first[0] <= first[1], `${where}: the first table is ${first[0]} px wide in ${first[1]}`)
      check(noise.length === 0, `${where}: console ${noise}`)
      check(requests.length === 0, `${where}: requests ${requests}`)
      const fonts = await page.evaluate(() => [...document.fonts].map(font => font.status))
      check(fonts.every(status => status === 'loaded'), `${where}: fonts ${fonts}`)
      // Text of figures, as drawn: not tiny, and inside its figure.
      const small = await page.evaluate(() => {
        const out = []
        for (const svg of document.querySelectorAll('figure svg')) {
          const frame = svg.getBoundingClientRect()
          if (frame.width === 0) continue
          for (const text of svg.querySelectorAll('text')) {
            const box = text.getBoundingClientRect()
            if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) out.push(`outside: ${text.textContent}`)
            const size = parseFloat(text.getAttribute('font-size')) / 10 * frame.width / svg.width.baseVal.value
            if (size < 8.4) out.push(`${size.toFixed(1)} px: ${text.textContent}`)
          }
        }
        return out.slice(0, 5)
      })
      check(small.length === 0, `${where}: figure text ${JSON.stringify(small)}`)
      if (width === 768 || (scheme === 'dark' && width !== 1280)) continue
      // Selectors of what is found are not asked for: a quarter less time.
      // In the dark only colours are looked at, on a narrow page all but colours. Other reports have the parts of the first: they are
      // looked at once, wide and light; so is one of the shipped scenarios.
      const again = scheme === 'dark' || width !== 1280
      const contrast = 'color-contrast'
      const rules = scheme === 'dark' ? { runOnly: [contrast] } : { rules: { [contrast]: { enabled: !again } } }
      const leftOut = name.startsWith('shipped-') ? again || name !== 'shipped-ridge-valley.html' : again && name.startsWith('report-')
      const violations = leftOut ? [] : await page.evaluate(async rules => (await axe.run(document, { resultTypes: ['violations'], preload: false, selectors: false, ...rules })).violations, rules)
      for (const violation of violations) {
        check(false, `${where}: ${violation.id}: ${violation.help}; ${violation.nodes.slice(0, 3).map(node => node.html.slice(0, 120)).join(' | ')}`)
      }
      check(true, '')
      if (width === 1280 && scheme === 'light') {
        // By keyboard: the first stop is the link past everything to the answer.
        await page.keyboard.press('Tab')
        const focus = await page.evaluate(() => [document.activeElement.className, getComputedStyle(document.activeElement).outlineStyle])
        check(focus[0] === 'skip', `${where}: first stop is ${focus}`)
      }
      if (pictures) await page.screenshot({ path: join(pictures, `${name}-${width}-${scheme}.png`), fullPage: true })
      if (pictures && width === 1280) await page.screenshot({ path: join(pictures, `${name}-${width}-${scheme}-first.png`) })
    }
  }
  // On paper: emulate print at the width of the text on A4 and look for anything wider, then make the PDF
  // of those whose number of pages is asked for.
  await page.setViewportSize({ width: 703, height: 1032 })
  await page.emulateMedia({ media: 'print', colorScheme: 'dark' })
  await page.evaluate(() => document.fonts.ready)
  const wide = await page.evaluate(() => [...document.querySelectorAll('body *')]
    .filter(node => { const box = node.getBoundingClientRect(); return box.width > 0 && box.right > 703.5 && !node.closest('defs') && !node.closest('svg g') && !node.classList.contains('skip') })
    .slice(0, 5).map(node => `${node.tagName} ${node.className} ${node.getBoundingClientRect().right}: ${node.textContent.slice(0, 60)}`))
  check(wide.length === 0, `${name} on paper: beyond the edge: ${JSON.stringify(wide)}`)
  const ground = await page.evaluate(() => getComputedStyle(document.body).backgroundColor)
  check(ground === 'rgb(255, 255, 255)', `${name} on paper: ground ${ground}`)
  const tall = await page.evaluate(() => [...document.querySelectorAll('figure, .box, .bigmap')].map(node => node.getBoundingClientRect()).filter(box => box.height > 1032).map(box => box.height))
  check(tall.length === 0, `${name} on paper: higher than a page: ${tall}`)
  // A report: four sheets and an annex. Each sheet holds what stands on it: nothing reaches over its foot, nor lies over what follows.
  if (/^(report|shipped)/.test(name)) {
    const found = await page.evaluate(() => {
      const boxes = [...document.querySelectorAll('.sheet')]
      const parts = boxes.slice(1).flatMap(box => [...box.children].map((part, at) => {
        const next = box.children[at + 1]
        const shown = [...part.querySelectorAll('svg, p, table, ul, figcaption')].map(node => node.getBoundingClientRect()).filter(r => r.height > 0)
        const bottom = Math.max(...shown.map(r => r.bottom))
        const limit = next ? next.getBoundingClientRect().top : box.getBoundingClientRect().top + 1035
        return bottom > limit + 1 ? `${part.textContent.trim().slice(0, 40)}: ${bottom - limit} px over` : ''
      }))
      const header = document.querySelector('header').getBoundingClientRect()
      return { count: boxes.length, first: boxes[0].getBoundingClientRect().bottom - header.top, tall: boxes.slice(1).map(box => box.scrollHeight), over: parts.filter(text => text), annexes: document.querySelectorAll('.annex').length }
    })
    check(found.count === 4 && found.annexes === 1, `${name} on paper: ${found.count} sheets and ${found.annexes} annexes`)
    check(found.first <= 1035, `${name} on paper: the first sheet is ${found.first} px high`)
    check(found.tall.every(height => height <= 1035), `${name} on paper: sheets of ${found.tall} px`)
    check(found.over.length === 0, `${name} on paper: ${JSON.stringify(found.over)}`)
    const small = await page.evaluate(() => [...document.querySelectorAll('.sheet svg')].filter(svg => svg.getBoundingClientRect().height > 0).flatMap(svg => {
      const view = svg.viewBox.baseVal
      const box = svg.getBoundingClientRect()
      const scale = Math.min(box.width / view.width, box.height / view.height)
      return [...svg.querySelectorAll('text')].map(text => parseFloat(text.getAttribute('font-size')) * scale).filter(size => size < 5).slice(0, 1).map(size => `${size.toFixed(1)} px in ${svg.id || svg.querySelector('title').textContent}`)
    }))
    check(small.length === 0, `${name} on paper: small text ${JSON.stringify(small)}`)
  }
  const inMegabytes = `${(readFileSync(join(folder, name)).length / 1e6).toFixed(2)} MB`
  if (pictures || name.startsWith('sheet')) {
    const pdf = await page.pdf({ format: 'A4', printBackground: true, preferCSSPageSize: true })
    const sheets = (pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g) || []).length
    console.log(`${name}: ${sheets} pages on paper, ${inMegabytes}`)
    if (name.startsWith('sheet')) check(sheets === 2, `${name}: ${sheets} pages on paper instead of 2`)
    if (pictures) {
      writeFileSync(join(pictures, `${name}.pdf`), pdf)
      await page.screenshot({ path: join(pictures, `${name}-paper.png`), fullPage: true })
    }
  } else {
    console.log(`${name}: ${inMegabytes}`)
  }
  await page.close()
}

// Two browsers side by side: each draws with one core.
const waiting = [...pages]
await Promise.all([1, 2].map(async () => {
  const browser = await launch()
  for (let name = waiting.shift(); name; name = waiting.shift()) await examine(browser, name)
  await browser.close()
}))
console.log(`${checks} checks, ${failures} failed`)
process.exit(failures ? 1 : 0)
