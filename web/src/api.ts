// What the program serves, and how it is asked.

export interface Choice { value: string; label: string }

/** A quantity to move. `initial` null: the scenario has no one value, but draws it, or its policies differ; then `note` says so, and
 * `typical` is the middle of it. */
export interface Control {
  key: string
  label: string
  unit: string
  kind: 'range' | 'set'
  min: number
  max: number
  step: number
  initial: number | string | null
  typical: number | null
  /** The empty one stands for the scenario's own. */
  choices: Choice[]
  note: string
}

export interface Scale { box_px: [number, number, number, number]; x: [number, number]; y: [number, number] }

export interface Stroke { ink: string; dash_px: [number, number]; shape: string }

export interface Tier { key: string; label: string }

export interface PathPoint { along_m: number; x_m: number; y_m: number; height_m: number }

export interface Start {
  title: string
  invented: boolean
  about: string
  cautions: string[]
  seed: number
  flights: number
  version: string
  /** Of the intervals. */
  confidence: number
  controls: Control[]
  policies: (Stroke & { name: string; words: string })[]
  path: { length_m: number; points: PathPoint[]; home_m: [number, number] }
  plan: { svg: string; scale: Scale; over: number }
  tiers: Tier[]
  headline: string
}

export interface Rows {
  time_s: number[]
  x_m: number[]
  y_m: number[]
  along_m: number[]
  height_m: number[]
  doing: string[]
}

export interface Sentence { number: number; time_s: number | null; policy: number | null; text: string }

export interface Flight {
  flight: number
  lost_at_s: number | null
  cause: string | null
  lost_m: [number, number, number] | null
  policies: { name: string; headline: string | null; tier: string | null; outcome: string; rows: Rows }[]
  cut: { direction: [number, number]; points: [number, number][] }
  /** Why this flight, in words. */
  picked: string
  answer: string
  sentences: Sentence[]
}

export interface Share { count: number; per_1000: number; low: number; high: number }

export interface Shares {
  flights: number
  of: number
  links_lost: number
  policies: { name: string; tiers: (Share & { key: string })[]; home: Share }[]
  answer: { headline: string; sure: string } | null
  done: boolean
}

/** Asked, the program said no; its words. */
export class Refused extends Error {
  constructor(readonly status: number, message: string) {
    super(message)
  }
}

/** Nobody answers. */
export class Gone extends Error {}

const ask = async (path: string, signal: AbortSignal): Promise<Response> => {
  const response = await fetch(path, { signal }).catch((error: unknown) => {
    throw signal.aborted ? error : new Gone()
  })
  if (response.ok) return response
  const said = await response.json().catch(() => ({})) as { error?: string; accepted?: string }
  const error = said.error ?? `The program answers with error ${response.status}`
  throw new Refused(response.status, `${error}${said.accepted ? `; accepted: ${said.accepted}` : ''}.`)
}

/** Path of a request in a state. */
export const url = (what: string, ...query: string[]) => {
  const all = query.filter(part => part !== '').join('&')
  return `/api/${what}${all === '' ? '' : `?${all}`}`
}

export const ask_start = async (query: string, signal: AbortSignal) =>
  await (await ask(url('start', query), signal)).json() as Start

export const ask_flight = async (query: string, signal: AbortSignal) =>
  await (await ask(url('flight', query), signal)).json() as Flight

/** The shares, line by line as more flights have been flown. */
export const ask_shares = async (query: string, page: string, signal: AbortSignal, each: (shares: Shares) => void) => {
  const response = await ask(url('shares', query, `page=${page}`), signal)
  if (!response.body) throw new Gone()
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader()
  let rest = ''
  let last: Shares | null = null
  for (;;) {
    const { done, value } = await reader.read().catch((error: unknown) => {
      throw signal.aborted ? error : new Gone()
    })
    if (done) break
    const lines = (rest + value).split('\n')
    rest = lines.pop() ?? ''
    for (const line of lines.filter(line => line.trim() !== '')) {
      last = JSON.parse(line) as Shares
      each(last)
    }
  }
  if (!last?.done) throw new Refused(0, 'The program broke off the flights before the last one.')
}
