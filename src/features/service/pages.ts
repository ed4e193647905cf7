import { CAUTIONS } from '../../domain/cautions.ts';
import { PROBLEMS, type ProblemSlug } from '../../http/frame/problems.ts';
import { GUIDE } from './guide-routes.ts';
import { html, page } from './html.ts';

/** The front page: where things are, and what every reader must know before using them. */
export function indexPage(): string {
  const { general, ...ofTasks } = CAUTIONS;
  return page(
    'Gridworthy',
    html`<h1>Gridworthy</h1>
<p>Technical inspection of cars before an event: declare, judge, inspect, sign off, admit.</p>
<p><strong>${general.text}</strong></p>
<h2>Pages</h2>
<ul>
<li><a href="/garage">Garage</a>: the entrant declares the inspection of his car</li>
<li><a href="/line">Tech line</a>: the inspector takes the next car and signs off</li>
<li><a href="/gate">Gate</a>: the marshal types a car number</li>
<li><a href="/office">Race office</a>: the organizer and the chief inspector</li>
</ul>
<p>Each needs access: a link for entrants, a code for devices of the staff.</p>
<h2>Guide</h2>
<ul>
${GUIDE.map(({ name, title, about }) => html`<li><a href="/docs/${name}">${title}</a>: ${about}</li>`)}
</ul>
<h2>For programs</h2>
<ul>
<li><a href="/docs">API documentation</a></li>
<li><a href="/openapi.json">OpenAPI document</a></li>
<li><a href="/rule-set.schema.json">JSON Schema of a rule set</a></li>
<li><a href="/problems">What each problem means</a></li>
</ul>
<h2>Cautions</h2>
<ul>
${Object.values(ofTasks).map((caution) => html`<li>${caution.text}</li>`)}
</ul>`,
  );
}

/** All problems this server answers with. */
export function problemsPage(): string {
  // The keys of PROBLEMS are slugs by definition; Object.keys loses the type.
  const slugs = Object.keys(PROBLEMS) as ProblemSlug[];
  return page(
    'Problems',
    html`<h1>Problems</h1>
<p>An answer that is not a success is a problem document whose <code>type</code> leads to one of these pages.</p>
<ul>
${slugs.map((slug) => html`<li><a href="/problems/${slug}">${PROBLEMS[slug].title}</a> (${PROBLEMS[slug].status}, <code>${slug}</code>)</li>`)}
</ul>`,
  );
}

/** Cause and remedy of one problem. */
export function problemPage(slug: ProblemSlug): string {
  const { title, status, cause, remedy } = PROBLEMS[slug];
  return page(
    title,
    html`<h1>${title}</h1>
<dl>
<dt>Status</dt><dd>${status}</dd>
<dt>Code</dt><dd><code>${slug}</code></dd>
<dt>Cause</dt><dd>${cause}</dd>
<dt>Remedy</dt><dd>${remedy}</dd>
</dl>
<p><a href="/problems">All problems</a></p>`,
  );
}
