// When the program is asked, what becomes of the answer, and the state in the address.
import { useEffect, useRef, useState } from 'preact/hooks'
import { Gone, Refused } from './api'
import { read, write } from './state'
import type { State } from './state'

/** Between two requests while a slider moves: longer, up to the second, while the program is too busy to answer in between. */
const GAP_MS = [80, 500] as const
/** Until the rest of the page follows; until the address follows. */
const REST_MS = 300
const ADDRESS_MS = 150
/** Changes closer together are one step back. */
const STEP_MS = 1000
const GONE = 'The program does not answer: it has ended, or its terminal was closed. Start it again with the same port, then retry; ' +
  'what is set here is kept.'

type Trouble = string | null

/** What is asked, with what breaks it off and what tells that a first answer has come. */
type Run = (signal: AbortSignal, answered: () => void) => Promise<void>

/** Asks for what a text stands for as soon as it changes, or at rest, but not too often; what was asked before is broken off. */
export const useAnswer = (asked: string, at_rest: boolean, run: Run): Trouble => {
  const [trouble, setTrouble] = useState<Trouble>(null)
  const last = useRef({ at_ms: -Infinity, gap_ms: 0, answered: true, abort: new AbortController() })
  useEffect(() => {
    const { at_ms, gap_ms } = last.current
    const since_ms = performance.now() - at_ms
    const timer = setTimeout(() => {
      last.current.abort.abort()
      const abort = new AbortController()
      const gap_ms = last.current.gap_ms * (last.current.answered ? 1 / 1.5 : 1.5)
      const now = { at_ms: performance.now(), gap_ms: Math.min(GAP_MS[1], Math.max(GAP_MS[0], gap_ms)), answered: false, abort }
      last.current = now
      setTrouble(null)
      run(abort.signal, () => { now.answered = true }).catch((error: unknown) => {
        if (abort.signal.aborted) return
        now.answered = true
        if (error instanceof Gone) setTrouble(GONE)
        else setTrouble(error instanceof Refused ? error.message : `The answer of the program could not be read: ${String(error)}`)
      })
    }, at_rest && at_ms > 0 ? REST_MS : Math.max(0, gap_ms - since_ms))
    return () => clearTimeout(timer)
  }, [asked])
  return trouble
}

/** The state, in the address bar too: back and forward go through it. */
export const useAddress = (): [State, (next: (before: State) => State) => void] => {
  const [state, setState] = useState(() => read(location.hash))
  const pushed_ms = useRef(-Infinity)
  useEffect(() => {
    const follow = () => setState(read(location.hash))
    addEventListener('popstate', follow)
    return () => removeEventListener('popstate', follow)
  }, [])
  const text = write(state)
  useEffect(() => {
    const timer = setTimeout(() => {
      if (write(read(location.hash)) === text) return
      const address = text === '' ? location.pathname : `#${text}`
      if (performance.now() - pushed_ms.current > STEP_MS) history.pushState(null, '', address)
      else history.replaceState(null, '', address)
      pushed_ms.current = performance.now()
    }, ADDRESS_MS)
    return () => clearTimeout(timer)
  }, [text])
  return [state, setState]
}
