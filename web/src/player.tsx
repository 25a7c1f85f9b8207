// The time of the flight: played, stepped, slid, and the story's sentence at it.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type { Flight, Sentence } from './api'
import { span } from './draw'
import { number } from './words'

/** With reduced motion playing goes from moment to moment, so long apart; a sentence is read out once it has stood a little. */
const MOMENT_MS = 2500
const STANDS_MS = 700
/** Times are told to hundredths. */
const CLOSE_S = 0.011
const SPEEDS: [number, string][] = [[0.5, 'half'], [1, 'as flown'], [2, '2 times'], [4, '4 times'], [10, '10 times'], [40, '40 times']]

/** The time that is shown. It is kept from the loss on, so that another flight is shown as far after its loss. */
export const usePlayer = (flight: Flight | null) => {
  const [after_s, move] = useState(Infinity)
  const [playing, play] = useState(false)
  const [speed, setSpeed] = useState(4)
  const [from_s, to_s] = useMemo(() => (flight ? span(flight) : [0, 0]), [flight])
  const zero_s = flight?.lost_at_s ?? from_s
  const time_s = Math.min(to_s, Math.max(from_s, zero_s + after_s))
  const moments = useMemo(() => {
    const times = (flight?.sentences ?? []).flatMap(({ time_s }) => (time_s === null || time_s < from_s ? [] : [time_s]))
    return [...new Set(times)].sort((a, b) => a - b)
  }, [flight, from_s])
  const now = useRef(time_s)
  now.current = time_s
  const go = (to: number) => {
    now.current = Math.min(to_s, Math.max(from_s, to))
    // At the end it stays at the end, of whatever flight.
    move(now.current >= to_s ? Infinity : now.current - zero_s)
  }
  const jump = (way: number) => {
    const next = way > 0 ? moments.find(at => at > now.current + 0.05) : moments.filter(at => at < now.current - 0.05).at(-1)
    go(next ?? (way > 0 ? to_s : from_s))
  }
  useEffect(() => {
    if (!playing) return
    let next = 0
    const ended = () => { if (now.current >= to_s) play(false); return now.current >= to_s }
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) {
      const leap = () => { jump(1); if (!ended()) next = window.setTimeout(leap, MOMENT_MS / Math.max(1, speed / 4)) }
      leap()
      return () => clearTimeout(next)
    }
    let last_ms = performance.now()
    const tick = (at_ms: number) => {
      go(now.current + Math.min(Math.max(0, at_ms - last_ms) / 1000, 0.25) * speed)
      last_ms = at_ms
      if (!ended()) next = requestAnimationFrame(tick)
    }
    next = requestAnimationFrame(tick)
    return () => cancelAnimationFrame(next)
  }, [playing, speed, flight])
  return {
    time_s, from_s, to_s, playing, speed, setSpeed, moments,
    stop: () => play(false),
    toggle: () => { if (!playing && time_s >= to_s) go(from_s); play(!playing) },
    go: (to: number) => { play(false); go(to) },
    jump: (way: number) => { play(false); jump(way) },
  }
}

export type Player = ReturnType<typeof usePlayer>

/** What the story says at a time: of the sentences of one moment the one for all, or the first of each policy. */
const said = (flight: Flight, time_s: number) => {
  const timed = flight.sentences.filter((sentence): sentence is Sentence & { time_s: number } => sentence.time_s !== null)
  const at_s = Math.max(...timed.filter(sentence => sentence.time_s <= time_s + CLOSE_S).map(sentence => sentence.time_s))
  const current = timed.filter(sentence => Math.abs(sentence.time_s - at_s) < CLOSE_S)
  const shared = current.filter(({ policy }) => policy === null)
  const first = current.filter(({ policy }, at) => current.findIndex(other => other.policy === policy) === at)
  const told = (shared.length > 0 ? shared.slice(0, 1) : first).map(sentence => spoken(flight, sentence))
  return current.length === 0 ? '' : `${number(at_s, 1)} s. ${told.join(' ')}`
}

export const spoken = (flight: Flight, { policy, text }: Sentence) =>
  `${policy === null ? '' : `Under \u201c${flight.policies[policy]?.name ?? ''}\u201d: `}${text}`

export const PlayerBar = ({ flight, player }: { flight: Flight; player: Player }) => {
  const { time_s, from_s, to_s, playing } = player
  const sentence = said(flight, time_s)
  const [read, setRead] = useState('')
  useEffect(() => {
    const timer = setTimeout(() => setRead(sentence), STANDS_MS)
    return () => clearTimeout(timer)
  }, [sentence])
  const after = time_s - (flight.lost_at_s ?? 0)
  const clock = flight.lost_at_s === null ? `${number(time_s, 1)} s after take-off`
    : `${number(time_s, 1)} s; ${number(Math.abs(after), 1)} s ${after < 0 ? 'before' : 'after'} the loss`
  return (
    <div class="player" role="group" aria-label="Play the flight">
      <div class="buttons">
        <button type="button" class="play" onClick={player.toggle}>{playing ? 'Pause' : 'Play'}</button>
        <button type="button" onClick={() => player.go(time_s - 1)}>{'\u2212'}1 s</button>
        <button type="button" onClick={() => player.go(time_s + 1)}>+1 s</button>
        <button type="button" onClick={() => player.jump(-1)}>Previous moment</button>
        <button type="button" onClick={() => player.jump(1)}>Next moment</button>
        <label>Speed <select value={player.speed} onChange={event => player.setSpeed(Number(event.currentTarget.value))}>
          {SPEEDS.map(([speed, words]) => <option value={speed}>{words}</option>)}
        </select></label>
        <span class="clock">{clock}</span>
      </div>
      <input type="range" class="time" aria-label="Time of the flight" aria-valuetext={clock} min={Math.floor(10 * from_s) / 10}
        max={Math.ceil(10 * to_s) / 10} step="0.1" value={time_s} onInput={event => player.go(Number(event.currentTarget.value))} />
      <p class="now">{sentence}</p>
      <p class="heard" aria-live="polite">{read}</p>
    </div>
  )
}
