// Numbers in words, as the reports write them.

/** With a true minus sign and thousands set apart; a dash where there is none. */
export const number = (value: number, decimals = 0) => {
  if (!Number.isFinite(value)) return '–'
  const [whole = '', rest] = Math.abs(value).toFixed(decimals).split('.')
  const apart = whole.replace(/\B(?=(\d{3})+$)/g, ',')
  const text = rest === undefined ? apart : `${apart}.${rest}`
  return value < 0 && /[1-9]/.test(text) ? `\u2212${text}` : text
}

type Toward = (value: number) => number
const down: Toward = value => Math.floor(value + 1e-9)
const up: Toward = value => Math.ceil(value - 1e-9)

/** Two significant digits under 10, else whole; of what is nearly all 1,000 one decimal, and never 1,000 unless all are. */
const rounded = (value: number, toward: Toward) => {
  if (!(value > 0)) return '0'
  if (value > 500) {
    const scale = 1000 - value < 9.95 ? 10 : 1
    const whole = toward(value * scale) / scale
    return number(whole >= 1000 && value < 1000 && toward !== up ? 1000 - 1 / scale : whole, scale === 10 ? 1 : 0).replace(/\.0$/, '')
  }
  if (value >= (toward === Math.round ? 9.95 : 10)) return number(toward(value))
  const decimals = Math.min(12, Math.max(0, 1 - Math.floor(Math.log10(value))))
  return String(Number((toward(value * 10 ** decimals) / 10 ** decimals).toFixed(decimals)))
}

/** An upper bound of 1,000, rounded up. */
export const at_most = (per_1000: number) => rounded(per_1000, up)

/** A share of 1,000 and its interval, rounded outward; a bound where none or all were. */
export const share = (of: { count: number; per_1000: number; low: number; high: number }, flights: number) => {
  if (flights === 0) return { value: '–', interval: '' }
  if (of.count === 0) return { value: 'none', interval: `fewer than ${at_most(of.high)}` }
  if (of.count === flights) return { value: 'all', interval: `more than ${rounded(of.low, down)}` }
  return { value: rounded(of.per_1000, Math.round), interval: `${rounded(of.low, down)} to ${at_most(of.high)}` }
}

const COMPASS = ['north', 'north-north-east', 'north-east', 'east-north-east', 'east', 'east-south-east', 'south-east', 'south-south-east',
  'south', 'south-south-west', 'south-west', 'west-south-west', 'west', 'west-north-west', 'north-west', 'north-north-west']

/** A value of a control with its unit; a bearing with its direction. */
export const quantity = (value: number, unit: string, step: number) => {
  const text = number(value, (String(step).split('.')[1] ?? '').length).replace(/(\.\d*[1-9])0+$|\.0+$/, '$1')
  if (unit === '°') return `${text}°, from the ${COMPASS[Math.round(value / 22.5) % 16] ?? ''}`
  return unit === '' ? text : `${text}\u00a0${unit}`
}
