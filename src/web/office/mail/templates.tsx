import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  changeMailTemplate,
  deleteMailTemplate,
  listMailTemplates,
  type MailPreview,
  type MailTemplate,
  previewMailTemplate,
} from '../../api/operations.ts';
import { defineText } from '../../shared/text.ts';
import { Area, Form, Input, Select } from '../parts/form.tsx';
import { type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Loaded, Panel } from '../parts/panel.tsx';

/** Texts of the messages, loaded with the part itself. */
export const mailText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = mailText;

/** The texts of messages, each to be written anew for this event, with a preview. */
export function Templates({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const [chosen, setChosen] = useState({ kind: 'reminder', language: 'en' });
  const load = useLoad(`templates ${eventId}`, async (signal) => {
    return (await call(listMailTemplates, { params: { eventId } }, { token, signal })).body.templates;
  });
  return (
    <Panel title={t('templates')}>
      <p>{t('templates.how')}</p>
      <Loaded of={load}>
        {(templates) => {
          const one = templates.find(({ kind, language }) => kind === chosen.kind && language === chosen.language);
          const kinds = [...new Set(templates.map(({ kind }) => kind))];
          return (
            <>
              <div class="fields">
                <Select
                  label={t('templates.kind')}
                  value={chosen.kind}
                  onValue={(kind) => setChosen({ ...chosen, kind })}
                  options={kinds.map((kind) => [kind, t(`kind.${kind}`)])}
                />
                <Select
                  label={t('templates.language')}
                  value={chosen.language}
                  onValue={(language) => setChosen({ ...chosen, language })}
                  options={[
                    ['en', t('language.en')],
                    ['de', t('language.de')],
                  ]}
                />
              </div>
              {one !== undefined && (
                <Edit
                  key={`${one.kind} ${one.language} ${one.changedAt ?? ''}`}
                  {...{ office, one }}
                  onDone={load.reload}
                />
              )}
            </>
          );
        }}
      </Loaded>
    </Panel>
  );
}

function Edit({ office, one, onDone }: { office: OfficeContext; one: MailTemplate; onDone(): void }) {
  const { eventId, token } = office;
  const { kind, language } = one;
  const { values, set } = useValues({ subject: one.subject, text: one.text });
  const [preview, setPreview] = useState<MailPreview>();
  const params = { eventId, kind, language };
  const look = async (): Promise<void> => {
    setPreview((await call(previewMailTemplate, { params, body: values }, { token })).body);
  };
  const drop = async (): Promise<void> => {
    await call(deleteMailTemplate, { params }, { token });
    onDone();
  };
  return (
    <Form
      label={t('templates')}
      submit={t('templates.save')}
      onSend={async () => {
        await call(changeMailTemplate, { params, body: values }, { token });
        say(t('templates.saved'));
        onDone();
      }}
    >
      {one.changedBy !== undefined && <p class="soft">{t('templates.own', { name: one.changedBy })}</p>}
      <Input label={t('templates.subject')} pointer="/subject" value={values.subject} onValue={set('subject')} />
      <Area label={t('templates.text')} pointer="/text" value={values.text} onValue={set('text')} />
      <p class="soft">{t('templates.words', { words: one.words.map((word) => `{${word}}`).join(' ') })}</p>
      <div class="row">
        <button type="button" onClick={() => void look()}>
          {t('templates.preview')}
        </button>
        {one.own && (
          <button type="button" onClick={() => void drop()}>
            {t('templates.back')}
          </button>
        )}
      </div>
      {preview !== undefined && (
        <div class="stack" data-preview>
          {preview.unknown.length > 0 && (
            <p class="notice bad">{t('templates.unknown', { words: preview.unknown.join(', ') })}</p>
          )}
          <h4>{preview.subject}</h4>
          <pre class="letter">{preview.text}</pre>
        </div>
      )}
    </Form>
  );
}
