import { Lazy } from './parts/lazy.tsx';
import type { OfficeContext } from './parts/office-context.ts';

const loadImport = () => import('./import/import.tsx');

export function ImportPart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="import" load={loadImport}>
      {({ Import }) => <Import office={office} />}
    </Lazy>
  );
}

const loadLine = () => import('./line/line-plan.tsx');

export function LinePart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="line" load={loadLine}>
      {({ LineTimes }) => <LineTimes office={office} />}
    </Lazy>
  );
}

const loadPrint = () => import('./print/print.tsx');

export function PrintPart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="print" load={loadPrint}>
      {({ Print }) => <Print office={office} />}
    </Lazy>
  );
}

const loadMail = () => import('./mail/mail.tsx');

export function MailPart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="mail" load={loadMail}>
      {({ Mail }) => <Mail office={office} />}
    </Lazy>
  );
}

const loadService = () => import('./service/service.tsx');

export function ServicePart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="service" load={loadService}>
      {({ Service }) => <Service office={office} />}
    </Lazy>
  );
}

const loadLearned = () => import('./learned/learned.tsx');

export function LearnedPart({ office }: { office: OfficeContext }) {
  return (
    <Lazy name="learned" load={loadLearned}>
      {({ Learned }) => <Learned office={office} />}
    </Lazy>
  );
}
