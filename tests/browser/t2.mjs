import { chromium } from 'playwright-core'
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const b = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', ...process.argv.slice(2)] })
const page = await b.newPage({ viewport: { width: 1280, height: 800 } })
let t = Date.now(); const lap = n => { const u = Date.now(); console.log(n, u - t); t = u }
await page.goto('file:///tmp/pg/shipped-ridge-valley.html'); lap('goto')
await page.evaluate(axe); lap('inject')
const r = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], performanceTimer: true })); lap('axe')
await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], runOnly: ['color-contrast'] })); lap('contrast')
await page.evaluate(() => axe.run(document, { resultTypes: ['violations'], rules: { 'color-contrast': { enabled: false } } })); lap('no contrast')
await page.evaluate(() => { for (const s of document.querySelectorAll('figure svg')) s.querySelectorAll('*').length; return document.querySelectorAll('*').length }).then(n => console.log('nodes', n)); lap('count')
console.log(await page.evaluate(() => [document.querySelectorAll('svg *').length, document.querySelectorAll('svg path').length,document.querySelectorAll('svg text').length]))
await page.evaluate(() => { for (const s of document.querySelectorAll('svg')) s.querySelectorAll('path,rect,circle,line,polyline,polygon,g:not(:has(text))').forEach(n => n.remove()) }); lap('strip')
await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] })); lap('axe stripped')
await page.setViewportSize({ width: 380, height: 800 }); lap('resize')
await page.evaluate(() => document.body.getBoundingClientRect().height); lap('layout')
await b.close(); lap('close')
