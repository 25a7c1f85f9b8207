// The live page: what is set, the flight under every policy, the shares over many flights. All numbers come from the program.
import { render } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import { ask_flight, ask_shares, ask_start, url } from './api'
import type { Flight, Shares, Start } from './api'
import { Controls, in_words } from './controls'
import { Sample, row_at, value_at } from './draw'
import { Plan } from './plan'
import { PlayerBar, spoken, usePlayer } from './player'
import type { Player } from './player'
import { useAddress, useAnswer } from './requests'
import { progress, SharesTable } from './shares'
import { Side } from './side'
import { changed, write } from './state'
import type { State } from './state'
import { number } from './words'

/** Of this page among those that are open: a newer request of it ends the older one. */
const PAGE = Array.from(crypto.getRandomValues(new Uint8Array(8)), byte => byte.toString(16).padStart(2, '0')).join('')

/** What the handle can be put aside for. */
const CUTS = [['', 'As the scenario says'], ['radio', 'Let the radio decide']] as const

const Outcomes = ({ start, flight, time_s }: { start: Start; flight: Flight; time_s: number }) => {
  const [home_x, home_y] = start.path.home_m
  return (
    <div class="wide-table" tabindex={0} role="group" aria-label="What each policy did in this flight">
      <table>
        <thead>
          <tr><th scope="col">policy</th><th scope="col" class="onlyscreen">at this moment</th><th scope="col">how this flight ends</th></tr>
        </thead>
        <tbody>
          {flight.policies.map(({ name, rows, outcome, tier }, index) => {
            const stroke = start.policies[index]
            const away_m = Math.hypot(value_at(rows, 'x_m', time_s) - home_x, value_at(rows, 'y_m', time_s) - home_y)
            const ended = time_s >= (rows.time_s.at(-1) ?? 0) - 1e-6
            const label = start.tiers.find(({ key }) => key === tier)?.label
            return (
              <tr>
                <th scope="row">{stroke && <Sample stroke={stroke} />} {name}<small class="onlypaper">{stroke?.words}</small></th>
                <td class="onlyscreen">
                  {ended ? 'ended' : rows.doing[row_at(rows, time_s)]}
                  <small>{number(value_at(rows, 'height_m', time_s))} m up, {number(away_m)} m away</small>
                </td>
                <td>{outcome}{label && <small>{label}</small>}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
    </div>
  )
}

interface ThisFlightProps { start: Start; flight: Flight; player: Player; onFlight: (flight: number | null) => void }

const ThisFlight = ({ start, flight, player, onFlight }: ThisFlightProps) => (
  <section class="flight" aria-labelledby="flight-heading">
    <div class="row">
      <h2 id="flight-heading">
        Flight {flight.flight}{flight.lost_at_s === null ? ': its link was never called lost' : ' under every policy, with the same luck'}
      </h2>
      <span class="onlyscreen row">
        <button type="button" onClick={() => onFlight(null)}>A typical flight</button>
        <button type="button" disabled={flight.flight === 0} onClick={() => onFlight(flight.flight - 1)}>Flight before</button>
        <button type="button" disabled={flight.flight >= start.flights - 1} onClick={() => onFlight(flight.flight + 1)}>Next flight</button>
      </span>
    </div>
    <p class={flight.lost_at_s === null ? '' : 'onlypaper'}>{flight.answer}</p>
    <PlayerBar flight={flight} player={player} />
    <details>
      <summary>The whole story of this flight</summary>
      <p>{flight.answer} This is {flight.picked}.</p>
      <ul>{start.policies.map(({ name, words }) => <li>{`\u201c${name}\u201d: ${words}.`}</li>)}</ul>
      <ol>
        {flight.sentences.map(sentence => (
          <li value={sentence.number}>{sentence.time_s === null ? '' : `${number(sentence.time_s, 1)} s: `}{spoken(flight, sentence)}</li>
        ))}
      </ol>
    </details>
  </section>
)

const ManyFlights = ({ start, shares, stale }: { start: Start; shares: Shares | null; stale: boolean }) => (
  <section class="many" aria-labelledby="many-heading">
    <h2 id="many-heading">Over many flights</h2>
    <p class="progress">
      <progress aria-label="Flights flown" max={shares?.of ?? 1} value={stale ? 0 : shares?.flights ?? 0} /> <span>{progress(shares, stale)}</span>
    </p>
    <div role="status">
      {shares?.answer && !stale
        ? <><p class="answer">{shares.answer.headline}</p><p class="sure">{shares.answer.sure}</p></>
        : <p class="answer wait">The answer comes with the last flight.</p>}
    </div>
    {shares && <SharesTable start={start} shares={shares} stale={stale} />}
  </section>
)

interface SettingsProps { start: Start; state: State; set: (key: string, value: string | null) => void; reset: () => void }

const Settings = ({ start, state, set, reset }: SettingsProps) => {
  const [said, say] = useState('')
  const query = write(changed(state, 'flight', null))
  const copy = () => {
    const link = `${location.origin}${location.pathname}#${write(state)}`
    navigator.clipboard.writeText(link).then(() => say('Link copied.'), () => say(`The browser did not allow it. The link: ${link}`))
  }
  return (
    <section class="settings" aria-labelledby="settings-heading">
      <h2 id="settings-heading">What is set</h2>
      <p class="onlyscreen row">
        <button type="button" onClick={copy}>Copy link</button>
        <a class="button" href={url('scenario.toml', query)} download>Save scenario</a>
        <button type="button" onClick={reset} disabled={query === ''}>Reset all</button>
        <span role="status">{said}</span>
      </p>
      <p class="onlyscreen note">What is set here is the same for all flights.</p>
      <div class="onlyscreen moving">
        <Controls controls={start.controls} value={key => state.get(key) ?? null} onSet={set} />
      </div>
      <table class="onlypaper">
        <tbody>
          {start.controls.map(control => (
            <tr>
              <th scope="row">{control.label}</th>
              <td>{in_words(control, state.get(control.key) ?? null)}</td>
              <td class="n">{state.has(control.key) ? 'changed here' : 'as in the scenario'}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  )
}

const Live = () => {
  const [state, setState] = useAddress()
  const [attempt, again] = useState(0)
  const [start, setStart] = useState<Start | null>(null)
  const [flight, setFlight] = useState<Flight | null>(null)
  const [shares, setShares] = useState<{ of: string; line: Shares } | null>(null)
  const player = usePlayer(flight)
  const query = write(changed(state, 'flight', null))
  const troubles = [
    useAnswer(`${query} ${attempt}`, true, async signal => setStart(await ask_start(query, signal))),
    useAnswer(`${write(state)} ${attempt}`, false, async (signal, answered) => {
      setFlight(await ask_flight(write(state), signal))
      answered()
    }),
    useAnswer(`${query} ${attempt}`, false, (signal, answered) => ask_shares(query, PAGE, signal, line => {
      setShares({ of: query, line })
      answered()
    })),
  ]
  const trouble = troubles.find(text => text !== null)
  useEffect(() => { if (start) document.title = `${start.title}: live` }, [start?.title])

  // The flight that is seen stays: the same luck before and after.
  const set = (key: string, value: string | null) => setState(before => {
    const held = before.has('flight') || !flight ? before : changed(before, 'flight', String(flight.flight))
    return changed(held, key, value)
  })
  const show = (flight: number | null) => setState(before => changed(before, 'flight', flight === null ? null : String(flight)))
  const cut = start?.controls.find(({ key }) => key === 'cut_m')
  const cut_set = state.get('cut_m')
  const cut_number = Number(cut_set ?? cut?.initial ?? NaN)
  const cut_m = Number.isNaN(cut_number) ? null : cut_number
  const to_main = (event: Event) => { event.preventDefault(); document.getElementById('main')?.focus() }
  return (
    <>
      <a class="skip" href="#main" onClick={to_main}>Skip to the plan</a>
      <header>
        <p class="kind">Live page{start?.invented && <> · <span class="invented">invented place and craft</span></>}</p>
        <h1>{start?.title ?? 'lostlink'}</h1>
        <p class="question">{start?.headline}</p>
        {start && start.about !== '' && <details><summary>What the scenario asks</summary><p>{start.about}</p></details>}
        {start?.cautions[0] && <p class="caution">{start.cautions[0]}</p>}
        {trouble && <div class="trouble" role="alert"><p>{trouble}</p>
          <button type="button" onClick={() => again(attempt + 1)}>Retry</button>
          {state.size > 0 && <button type="button" onClick={() => setState(() => new Map())}>Reset all</button>}
        </div>}
      </header>
      <main id="main" tabindex={-1}>
        {start && <>
          <section class="above" aria-labelledby="above-heading">
            <h2 id="above-heading">From above</h2>
            <Plan start={start} flight={flight} time_s={player.time_s} control={cut} cut_m={cut_m} onCut={along_m => set('cut_m', String(along_m))} />
            {cut && <div class="onlyscreen">
              <p class="note">
                The ring is where the link is cut, broken while nothing is set: drag it along the path, or move it with the arrow keys. The cross
                is where the receiver calls the link lost.
              </p>
              <div class="row" role="group" aria-label="What makes the link go">
                {CUTS.map(([value, words]) => (
                  <button type="button" aria-pressed={(cut_set ?? '') === value} onClick={() => set('cut_m', value || null)}>{words}</button>
                ))}
              </div>
            </div>}
          </section>
          <section class="beside" aria-labelledby="beside-heading">
            <h2 id="beside-heading">From the side</h2>
            {flight && <Side start={start} flight={flight} time_s={player.time_s} />}
            {flight && <Outcomes start={start} flight={flight} time_s={player.time_s} />}
          </section>
          {flight && <ThisFlight start={start} flight={flight} player={player} onFlight={show} />}
          <Settings start={start} state={state} set={set} reset={() => setState(() => new Map())} />
          <ManyFlights start={start} shares={shares?.line ?? null} stale={shares !== null && shares.of !== query} />
          <section class="box" aria-labelledby="warnings">
            <h2 id="warnings">What these numbers are not</h2>
            <ol>{start.cautions.slice(1).map(line => <li>{line}</li>)}</ol>
          </section>
        </>}
      </main>
      <footer><p>{start && `lostlink ${start.version}, seed ${start.seed}, ${number(start.flights)} flights.`}</p></footer>
    </>
  )
}

const page = document.getElementById('page')
if (page) {
  page.replaceChildren()
  render(<Live />, page)
}
