// Shares over many flights: while few are flown they are said to be preliminary.
import type { Share, Shares, Start } from './api'
import { Sample } from './draw'
import { at_most, number, share } from './words'

/** A share and its interval, from none to all. */
const Bar = ({ of }: { of: Share }) => {
  const x = (per_1000: number) => 3 + 0.084 * per_1000
  return (
    <svg class="bar" viewBox="0 0 90 10" width="90" height="10" aria-hidden="true">
      <path class="axis" d="M3 5H87M3 2v6M87 2v6" />
      <path class="interval" d={`M${x(of.low).toFixed(1)} 5H${x(of.high).toFixed(1)}`} />
      <path class="found" d={`M${x(of.per_1000).toFixed(1)} 0.5v9`} />
    </svg>
  )
}

interface SharesProps { start: Start; shares: Shares; stale: boolean }

/** How far the flights are, in words. */
export const progress = (shares: Shares | null, stale: boolean) => {
  if (!shares) return 'The first flights are flown.'
  if (stale) return 'What is set has changed: these numbers are of the state before; new ones are on their way.'
  const flown = `${number(shares.flights)} of ${number(shares.of)} flights`
  const lost = `${number(shares.links_lost)} links lost`
  return shares.done ? `Final: ${flown}, ${lost}.` : `Preliminary: ${flown}, ${lost} so far.`
}

export const SharesTable = ({ start, shares, stale }: SharesProps) => {
  const preliminary = stale || !shares.done
  const seen = start.tiers.filter(({ key }) => shares.policies.some(({ tiers }) => tiers.some(tier => tier.key === key && tier.count > 0)))
  const unseen = start.tiers.filter(tier => !seen.includes(tier))
  const none = shares.policies.flatMap(({ tiers }) => tiers.filter(tier => unseen.some(({ key }) => key === tier.key)))
  return (
    <>
      <div class="wide-table" tabindex={0} role="group" aria-label="Shares of each policy">
        <table class={preliminary ? 'preliminary' : ''}>
          <caption><span>Of 1,000 lost links, with {number(100 * start.confidence)} % intervals{preliminary ? ' (preliminary)' : ''}</span></caption>
          <thead>
            <tr>
              <th scope="col">policy</th>
              {[...seen.map(({ label }) => label), 'back home'].map(label => <th scope="col" class="n">{label}</th>)}
            </tr>
          </thead>
          <tbody>
            {shares.policies.map((policy, index) => {
              const stroke = start.policies[index]
              const cells = [...seen.map(({ key }) => policy.tiers.find(tier => tier.key === key)), policy.home]
              return (
                <tr>
                  <th scope="row">{stroke && <Sample stroke={stroke} />} {policy.name}</th>
                  {cells.map(of => {
                    const { value, interval } = of ? share(of, shares.links_lost) : { value: '–', interval: '' }
                    return <td class="n">{value}{of && interval !== '' && <><small>{interval}</small><Bar of={of} /></>}</td>
                  })}
                </tr>
              )
            })}
          </tbody>
        </table>
      </div>
      {unseen.length > 0 && shares.links_lost > 0 && (
        <p class="none">
          None seen under any policy: {unseen.map(({ label }) => label).join(', ')}. Seeing none does not mean that none can occur: the upper
          bound is {at_most(Math.max(...none.map(({ high }) => high)))} of 1,000.
        </p>
      )}
    </>
  )
}
