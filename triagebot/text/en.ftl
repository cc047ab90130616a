### The program's own words, in English: what a person reads that belongs to no topic.
### Kind, short, exact. The most important thing first; no blame.

## How times, money and numbers are written where this language is spoken (a code such as en-GB)

locale = en-GB

## Opening and small talk

greeting =
    Hello. I am a bot, and I help at { $shop }. { $purpose }
    Tell me all that you see, or answer one question at a time. “I don’t know” is a fine answer. For a person, say “person”.
hello = Hello. Let us look at your wheel.
hello-again = Good to hear from you.
welcome = You are welcome.
welcome-back = Welcome back. So far I have this: { $known }.
help =
    I am the bot of { $shop }. { $purpose }
    These words always work:
    “how do I check?” shows how to find out.
    “I don’t know” is a fine answer.
    “back” takes the last answer back. “change” changes any answer. “why” shows what I have so far.
    “restart” begins again. “stop” ends. “person” hands over to a person.
    “my code” says your case code. “privacy” says what I keep, and “forget me” deletes it.
    For somebody who is elsewhere with their wheel, say “I help somebody”.
goodbye = Goodbye. Your case code is { $code }.
message-cut = That was a long message, so I read only its beginning.
topic-changed = { $count ->
        [one] My questions have changed since we last spoke, and one of your answers no longer fits. I kept the rest.
       *[other] My questions have changed since we last spoke, and { $count } of your answers no longer fit. I kept the rest.
    }

## What was understood

understood = Understood: { $clauses }.
instead-of = (Before, you said: { $clauses }.)
said-unsure = you are not sure about { $name }
said-denied = it isn’t that { $clause }
said-marking = the maker’s name is { $makers }
amount-range = { $low } to { $high }
amount-mm = { $amount } mm
amount-about = about { $amount } mm
amount-over = more than { $amount } mm
amount-under = less than { $amount } mm
amount-by = { $amount } { $means }
means-calliper = with a calliper
means-rule = with a rule
means-tape = with a tape measure
means-string = with a string round it
means-gauge = by a coin or card
means-paper-gauge = on the gauge sheet
means-screen-gauge = on the screen gauge
means-eye = by eye
list-between = ,{" "}
list-last = { $before } and { $last }
list-last-or = { $before } or { $last }
list-then = { $last } (at first: { $before })

## Questions

aside-unsure = I don’t know
aside-how = How do I check?
aside-back = Back
does-not-fit = That does not quite fit what you told me before, so let us look once more.
one-more-thing = One more thing, so that the tool goes on:
not-a-choice = That button belongs to another question. Here is the one that is open now.
not-understood-plain = I did not get that. Answer in your own words, by number, or say “I don’t know”.
not-understood-empty = That message was empty. Answer in your own words, by number, or say “I don’t know”.
not-understood-symbols = I can only read words and numbers. Answer in your own words, by number, or say “I don’t know”.
not-understood-off-topic = I only know about taking rear sprockets off. For anything else, say “person”.
not-understood-hostile = I am sorry that this is no fun. Let us go on, or say “person” to talk to somebody.
notes-say = In our notes, “{ $section }”:
notes-say-plain = In our notes:
notes-words = It says: “{ $words }”
notes-care = That is a part of it. Before you begin, read all of it, with its cautions.
notes-depend = That depends on what holds your sprockets, and I do not know it yet. Ask me again when I have told you.
notes-depend-see = That depends on what holds your sprockets, and I am not sure yet. Our notes, if it is one of these:
notes-for-each = Our notes about that:
example-answers = You could write, for instance: { $example }
offer-person = Would you rather talk to somebody? Say “person”.
puzzle-unit = You wrote “{ $said }”. Do you mean that { $proposed }? Yes or no?
puzzle-range = You wrote “{ $said }”. Do you mean that { $proposed }? Yes or no?
puzzle-choice = You wrote “{ $said }”. Do you mean that { $proposed }? Yes or no?
puzzle-conflict = You wrote “{ $said }”. Do you mean that { $proposed }? Yes or no?
puzzle-unit-plain = I am not sure which unit “{ $said }” is in. Could you say it in mm?
puzzle-range-plain = “{ $said }” is too much or too little for { $name }. I expect something from { $least } to { $most }.
puzzle-choice-plain = “{ $said }” is not one of the answers to this question.
puzzle-conflict-plain = You told me two different things about { $name }: “{ $said }”. Which one is right?
puzzle-no = All right, I did not count that.

## Commands

how-nothing = No question is open just now. Say “why” to hear what I have so far, or “restart” to begin again.
back-done = I took this back: { $clauses }.
back-plain = One step back.
back-nothing = There is nothing to take back yet.
change-done = Once more: { $name }.
change-nothing = You have not told me anything yet, so there is nothing to change.
change-which = Which answer shall we change? Send its number.
change-row = { $number }. { $answer }
restarted = We begin again.
stopped = We stop here. Nothing is lost: write again and we go on where we were. Your case code is { $code }.
known-so-far = So far: { $reasons }.
known-nothing = I do not know anything about your wheel yet.
still-possible = Still possible: { $names }.
after-answer = You have your answer above. Tell me if something looks different, or say “change” or “restart”. Case code: { $code }.
after-look-alike = Two kinds still fit. Tell me what the check above shows, or say “person”. Case code: { $code }.
after-closed = The people of the shop have closed this case. Say “person” if you need one once more, or “restart” for another wheel. Case code: { $code }.
after-person = A person should look at this. If you have seen more, tell me, or say “restart”. Case code: { $code }.
after-stopped = We had stopped. Say “continue” to go on, or “restart”. Case code: { $code }.

## About the conversation itself

your-case = Your case code is { $code }. Say it at the counter, and they see what you told me.
privacy =
    I keep what you tell me about your wheel, and what I answered, so that we can go on later. The people of { $shop } can read it when they help you.
    Who you are on this channel I keep closed, and only to answer you. I do not keep your name. Nobody else gets any of it from me, but for whoever you give the link to your card: that shows your answers.
    Say “forget me”, and all of it is deleted. Questions? { $contact }
forget = Shall I delete all that I have kept about you? This cannot be undone.
forget-yes = Yes, delete it
forget-no = No, keep it
kept = All right, nothing was deleted.
move-asked = If that case is yours, I have just asked you on the channel where you began it. Say yes there within 15 minutes, and we go on here.
move-confirm = Somebody on { $channel } has named the code of this case, to go on with it there. Was that you?
move-yes = Yes, that was me
move-no = No, it was not
move-over = That is too long ago. Name the code there once more.
moved = All right. You can go on there now, and here as well.
moved-here = You said yes, so here we go on.
stayed = Good that I asked. Nobody gets your case.
channel-telegram = Telegram
channel-matrix = Matrix
channel-page = the web page
language = Which language shall we speak? There are: { $languages }.
language-one = So far I speak { $language } only.

## At the desk

set-aside = I am sorry: something went wrong with your last message, and it was not your fault. Please say it again in other words, or say “person”.
stale-press = That button was for something that has changed since.
sent-photo = Thank you. I cannot look at pictures, so I keep it for the person who may look at your wheel.
sent-locked = I cannot open your last message: the key for it did not reach me. Please write it once more. If that does not help, ask me in a room without encryption, or ask a person at the shop.
sent-other = I can only read words and numbers, so please write it.
forgotten = Everything that I had kept about you is deleted. Write to me whenever you like; we then begin afresh.

## The end

found-sure = I am sure: you have { $fastening }.
found-fairly-sure = I am fairly sure: you have { $fastening }.
found-likely = Most likely you have { $fastening }.
found-two = Two kinds still fit: { $first }, or { $second }. They take different tools, so do not try one by force.
because = Why: { $reasons }.
against = One thing is odd: { $reasons }. Look at it once more before you pull.
would-change = If { $finding }, it is rather { $rival }. Then stop, and tell me.
tool-here = Remover: { $tool }. Here it is called “{ $name }”. Where: { $hangs }. { $offer }
tool-not-here = Remover: { $tool }. We have none of these on the wall just now.
offer-lends = You can borrow it.
offer-lends-deposit = You can borrow it for a deposit of { $money }.
offer-sells = You can buy one.
offer-sells-price = You can buy one for { $money }.
offer-shop-use-only = It is for use in the shop only.
also-needed = You also need:
accessory-here = { $accessory } (here: “{ $name }”, { $hangs })
refit-line = Putting it back: { $text }
look-alike-row = For { $fastening }. { $tool }
separating-check =
    This tells them apart:
    { $check }
notes-head = Our notes, step by step:
services-head = Or let us do it:
services-head-person = What we can do for you:
service-line = { $name } ({ $terms })
service-terms = { $price }, { $time }
takes-minutes = about { $minutes } minutes
takes-days = { $days ->
        [one] about one day
       *[other] about { $days } days
    }
case-code = Your case code is { $code }.
left-open = Nothing is lost. Start again and we go on from here. Your case code is { $code }.
what-next = Come by with the wheel, or do it at home with the note. Where the maker’s manual says otherwise, the manual is right.
what-next-look-alike = Tell me what the check shows, and I name the one tool. Or come by with the wheel.
what-next-person = Come by with the wheel. If you see more in the meantime, just tell me, and we go on from here.
what-next-bike = Come by with the whole bike. If you see more in the meantime, just tell me, and we go on from here.
rest-stays = The rest of the answer stays as it is.
person-asked = All right, a person will help you.
person-doubt = I cannot tell for sure from what we have, and I will not guess: the wrong tool slips and ruins the fitting. A person should look at it.
person-unlisted = What you describe fits nothing on my list. A person should look at it before any tool goes on.
person-no-remover = You most likely have { $fastening }. That one belongs in the shop.
person-referral = This is one for a person.
open-now = The shop is open now, until { $until }.
opens-today = The shop opens today at { $at }.
opens-next = The shop opens on { $day } at { $at }.

## Labels in pictures
## A word or two each: they stand beside a drawing. `label-view…` and `label-side-by-side` say a drawing in words.

label-axle = axle
label-locknut = locknut
label-innermost = innermost fitting
label-face-ring = face ring
label-sprockets = sprockets
label-sprocket = sprocket
label-hub = hub
label-splines = splines
label-notches = notches
label-outer-notches = notches outside
label-none = nothing to grip
label-wire-ring = wire ring
label-unknown = no drawing of this
label-gap = gap in the ring
label-count-splines = { $count ->
        [one] 1 spline
       *[other] { $count } splines
    }
label-count-notches = { $count ->
        [one] 1 notch
       *[other] { $count } notches
    }
label-count-outer-notches = { $count ->
        [one] 1 notch outside
       *[other] { $count } notches outside
    }
label-counts-splines = { $low } to { $high } splines
label-counts-notches = { $low } to { $high } notches
label-counts-outer-notches = { $low } to { $high } notches outside
label-size = { $size } mm
label-sizes = { $low } to { $high } mm
label-mark = pen mark on number 1
label-all-round = all the way round, back to the mark
label-calliper = calliper: take the widest reading
label-in-a-hole = in a hole: small jaws, groove to groove
label-round-a-ring = round a ring: large jaws, not in a notch
label-rule = rule: lay its edge across the middle, in mm
label-right = ✓ right: through the middle
label-wrong = ✗ wrong: off to one side
label-nine-one-narrow = 9 splines, one narrower
label-eight-deep = 8 deep splines
label-narrower = narrower
label-view = Seen from the sprocket side: { $fastening }. The axle and its locknut are grey, in the middle. Pointed out round them: { $what }.
label-view-sized = Seen from the sprocket side: { $fastening }. The axle and its locknut are grey, in the middle. Pointed out round them: { $what }, { $size } across.
label-side-by-side = { $count ->
        [one] One fitting.
       *[other] { $count } fittings side by side, at the same scale.
    }

## On any messenger

in-the-picture = In the picture: { $words }
answered-so = ✓ { $answer }

## Telegram

telegram-not-yours = These buttons are for somebody else. Write to me, and I ask you, too.
telegram-menu-start = Begin, or go on where we were
telegram-menu-help = What I can do, and the words that always work
telegram-menu-back = Take the last answer back
telegram-menu-case = Your case code
telegram-menu-person = Talk to a person
telegram-menu-language = Choose a language
telegram-menu-privacy = What is kept about you
telegram-menu-forget = Delete all that is kept about you
telegram-menu-cancel = Stop here; nothing is lost
telegram-description =
    I am the bot of { $shop }. { $purpose }
    Press Start, then answer by button or in your own words.
telegram-short-description = The bot of { $shop }: which remover takes your rear sprockets off.

## Gauge sheet
## A sheet printed at true size, and the names of the coins on it. `{"\u00A0"}` keeps a number and its unit on one line.

gauge-title = Gauge sheet: { $topic }
gauge-page-outlines = Which outline fits?
gauge-page-rulers = A card, count rulers and coins
gauge-page-of = Page { $page } of { $pages }, { $paper }
gauge-paper-a4 = A4
gauge-paper-letter = US letter
gauge-bar = This bar must be { $size }{"\u00A0"}mm long. If it is not, do not use this page.
gauge-steps =
    1. Print at 100{"\u00A0"}% (“actual size”), never “fit to page”.
    2. Check first: hold a rule to the bar below, and lay a bank card on the card outline. Wrong size? Do not use the sheet.
    3. Part in your hand: lay it on the outlines, and look straight down with one eye shut.
    4. Part on the wheel: cut out along the round line and lay the paper flat over the axle onto the fitting. Splines fit when you see them right to the bottom of the grooves and nothing outside. A notched ring fits when it just fills the hole.
    5. Tell the bot what is written under the outline that fits. None fits well? Say that instead.
gauge-outline-splines = { $count } splines, { $size }{"\u00A0"}mm
gauge-outline-notches = { $count } notches, { $size }{"\u00A0"}mm
gauge-outline-outer-notches = { $count } notches outside, { $size }{"\u00A0"}mm
gauge-range-splines = { $least } to { $most } splines: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-range-notches = { $least } to { $most } notches: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-range-outer-notches = { $least } to { $most } notches outside: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-card = Is the printer right? Take a bank card
gauge-card-size = { NUMBER($width, minimumFractionDigits: 2) } × { NUMBER($height, minimumFractionDigits: 2) }{"\u00A0"}mm
gauge-card-use =
    Lay any bank card on this outline. All bank cards have the same size.
    Right: the card just covers the line all round.
    Wrong: paper shows inside the line, or the card reaches past it on one side. Then print again at 100{"\u00A0"}%, or do not use the sheet.
gauge-count = Count rulers
gauge-count-use = Cut out along the round line. Lay the ring over the axle, with the wedge at one spline. If a tick meets every spline all the way round, that is your number.
gauge-count-ring = { $count } ticks
gauge-coins = Coins
gauge-coins-use = A coin measures, too. Hold one as close to the fitting as you can. Tell the bot which coin, and if the fitting is wider or narrower.
gauge-coin = { $coin }, { $size }{"\u00A0"}mm
gauge-coin-eur-10c = 10{"\u00A0"}cent
gauge-coin-eur-20c = 20{"\u00A0"}cent
gauge-coin-eur-50c = 50{"\u00A0"}cent
gauge-coin-eur-1 = 1{"\u00A0"}euro
gauge-coin-eur-2 = 2{"\u00A0"}euro
gauge-coin-gbp-1p = 1{"\u00A0"}penny
gauge-coin-gbp-2p = 2{"\u00A0"}pence
gauge-coin-gbp-5p = 5{"\u00A0"}pence
gauge-coin-gbp-10p = 10{"\u00A0"}pence
gauge-coin-gbp-2 = 2{"\u00A0"}pounds
gauge-coin-usd-1c = penny (1{"\u00A0"}cent)
gauge-coin-usd-5c = nickel (5{"\u00A0"}cents)
gauge-coin-usd-25c = quarter (25{"\u00A0"}cents)
gauge-coin-usd-50c = half dollar
gauge-coin-usd-1 = 1{"\u00A0"}dollar
gauge-coin-cad-5c = nickel (5{"\u00A0"}cents)
gauge-coin-cad-10c = dime (10{"\u00A0"}cents)
gauge-coin-chf-1 = 1{"\u00A0"}franc
gauge-coin-chf-2 = 2{"\u00A0"}francs
gauge-coin-chf-5 = 5{"\u00A0"}francs
gauge-coin-jpy-1 = 1{"\u00A0"}yen
gauge-coin-jpy-5 = 5{"\u00A0"}yen
gauge-coin-jpy-10 = 10{"\u00A0"}yen
gauge-coin-jpy-100 = 100{"\u00A0"}yen
gauge-coin-jpy-500 = 500{"\u00A0"}yen
gauge-coin-sek-1 = 1{"\u00A0"}krona
gauge-coin-sek-2 = 2{"\u00A0"}kronor
gauge-coin-inr-1 = 1{"\u00A0"}rupee
gauge-coin-inr-2 = 2{"\u00A0"}rupees
gauge-coin-inr-5 = 5{"\u00A0"}rupees
gauge-coin-inr-10 = 10{"\u00A0"}rupees
gauge-coin-pln-1 = 1{"\u00A0"}złoty
gauge-coin-pln-2 = 2{"\u00A0"}złote
gauge-coin-pln-5 = 5{"\u00A0"}złotych

## Pages

page-title-of = { $shop }
page-skip = To the content
page-nav = Pages
page-nav-notes = Notes
page-notes = Procedure notes
page-languages = Languages
page-trail = Where you are
page-checked = Last checked on { $day } by the { $who }.
page-never-checked = Nobody has checked this note yet.
page-overdue = This note should have been checked again by { $day }. Ask at the bench before you rely on it.
page-overdue-never = Nobody who knows has checked this note. Ask at the bench before you rely on it.
page-elsewhere = Read this note where it is kept up to date
page-glance = At a glance: { $name }
page-tool = Remover
page-tool-here = Here: “{ $name }”, { $hangs }.
page-tool-not-here = None on the wall just now: ask at the bench.
page-also = You also need
page-direction = Which way it turns
page-refitting = Putting it back
page-torque = { $torque } N·m, if no other figure is stamped on it
page-parts = On this page
page-printed = Printed on { $day }. The page on the web may be newer.
page-search-label = Search the notes
page-search = Search
page-found-title = { $words }: found in the notes
page-found = { $count ->
        [0] Nothing found for “{ $words }”
        [one] One place for “{ $words }”
       *[other] { $count } places for “{ $words }”
    }
page-all-notes = All notes
page-other-notes = In other languages
page-trouble-404 = There is no such page
    .next = The address may be mistyped, or the page has another one now.
page-trouble-405 = That cannot be done here
    .next = Go back and try it another way.
page-trouble-413 = That was too much
    .next = Send less, or bring the wheel to the shop.
page-trouble-429 = Too many pages at once
    .next = Wait a little, then try again.
page-trouble-500 = Something went wrong here
    .next = It was not your fault. Try again, and if it stays so, tell us at the shop.
page-trouble-other = That did not work
    .next = Go back and try it another way.

## Case card
## `card-aloud` has the name of every letter and digit that a code may have, to be read aloud.

card-offer = Your card, with all of this, to keep or to show at the counter: { $url } (it works for { $days } days).
card-title = Case { $code }
card-code = Case code
card-aloud =
    .A = Alfa
    .B = Bravo
    .C = Charlie
    .D = Delta
    .E = Echo
    .F = Foxtrot
    .G = Golf
    .H = Hotel
    .J = Juliett
    .K = Kilo
    .M = Mike
    .N = November
    .P = Papa
    .Q = Quebec
    .R = Romeo
    .S = Sierra
    .T = Tango
    .V = Victor
    .W = Whiskey
    .X = X-ray
    .Y = Yankee
    .Z = Zulu
    .n2 = two
    .n3 = three
    .n4 = four
    .n5 = five
    .n6 = six
    .n7 = seven
    .n8 = eight
    .n9 = nine
card-qr = This card as a square code. A phone’s camera opens it.
card-open = Not finished yet: there is no answer so far.
card-asked = A person was asked for. Nothing is decided yet.
card-cautions = First read this
card-check = This tells them apart
card-tool = What to use
card-tool-person = Most likely
card-why = What was told
card-nothing-told = Nothing was told yet.
card-told-by = { $by }, { $at }
card-by-person = Told by whoever opened the case
card-by-staff = Seen at the counter
card-by-rider = Told by the rider
card-by-mentor = Passed on by a helper
card-by-other = Told by somebody who helps
card-odd = This does not quite fit the rest. Look at it once more.
card-ruled-out = What was ruled out
card-ruled-out-since = Because { $clause }:
card-possible = Still possible
card-possible-too = Not ruled out beside it
card-bring = What to bring
card-bring-wheel = The rear wheel, out of the bike.
card-bring-holds = What holds it in the bike: axle nuts, lever or skewer.
card-bring-card = This card, or its code.
card-advice = Good to know
card-notes = Our notes, step by step
card-shop = The shop
card-photos = { $count ->
        [0] No photos were sent.
        [one] One photo was sent. The people at the counter can see it.
       *[other] { $count } photos were sent. The people at the counter can see them.
    }
card-answered = Answered on { $at }, from edition { $edition } of the questions and the catalogue.
card-begun = Begun on { $at }, with edition { $edition } of the questions and the catalogue.
card-renewed = The catalogue has changed since. This card is what edition { $edition } makes of the same answers.
card-when = { $day }, { $time }
card-secret = Whoever has the address of this page can see it. It ends by itself on { $day }.
card-end = Take this card back
card-end-sure = Take this card back?
card-end-what = Nobody can open it any more, nor any other card of this case. The case stays. The bot gives you a new card with the next answer.
card-end-yes = Yes, take it back
card-end-no = No, keep it
card-ended = The card is taken back
card-ended-what = Nobody can open it any more. On paper it stays what it is.
card-gone = There is no card here
card-gone-what = The address may be mistyped, or the card was taken back or is over. Ask the bot, or say your case code at the counter.
card-shelf = Go on in the chat

## Pages of the gauge sheet

gauge-how = No calliper? Print the gauge sheet, or compare with outlines on your screen: { $url }
gauge-written = { $file }: { $pages ->
        [one] one page, { $paper }
       *[other] { $pages } pages, { $paper }
    }. Print at 100{"\u00A0"}%, never “fit to page”.
gauge-nav = Gauges
gauge-head = Measure without a calliper
gauge-what = Hold the fitting against outlines at true size, on paper or on this screen. It takes two minutes.
gauge-print = Print the gauge sheet
gauge-print-what = On paper it is more exact, since paper can lie right on the fitting. Print at 100{"\u00A0"}%, never “fit to page”.
gauge-pdf = Open the sheet ({ $paper })
gauge-paper = Paper
gauge-country = Coins of
gauge-country-none = no coins
gauge-change = Change
gauge-looks = What is on it
gauge-looks-what = Here it is only to look at: on a screen these pages are not at true size.
gauge-screen = Compare on this screen
gauge-screen-what = No printer? A bank card tells this page how large your screen is. Then hold the wheel, or the part, against the outlines.
gauge-screen-go = Use this screen
gauge-script = Outlines at true size on a screen need JavaScript, which is off here. Turn it on, or print the gauge sheet.
gauge-calibrate = 1. Lay a bank card on the screen
gauge-lay-upright = Any bank card will do: they all have one size. Hold it upright on the screen, its left edge on the left line. Move the slider until the right line meets the card’s right edge. Is the card wider than the screen? Turn the phone sideways.
gauge-lay-lengthwise = Any bank card will do: they all have one size. Hold it lengthwise on the screen, its left edge on the left line. Move the slider until the right line meets the card’s right edge.
gauge-side = Width of the card on this screen
gauge-value = { $px } pixels
gauge-smaller = A little narrower
gauge-larger = A little wider
gauge-fits = The card fits the outline
gauge-moved = The screen or the zoom is another one now, so lay the card on once more.
gauge-zoomed = The page is zoomed with two fingers, so nothing is at true size. Zoom back first.
gauge-compare = 2. Which outline fits?
gauge-compare-what =
    Hold the part flat on the screen, or the screen right before the fitting on the wheel.
    Look straight at it with one eye shut. The outline should just meet the edge of the fitting all round.
gauge-again = Lay the card on again
gauge-kind-splines = Splines
gauge-kind-notches = Notches
gauge-kind-outer-notches = Notches on the outside
gauge-this = This one fits
gauge-write = Or write to the bot:
gauge-none-fits = None fits well? Then tell the bot that you do not know. That is a fine answer, too.
gauge-say = { $size } mm, on the screen gauge
gauge-say-about = { $size } ± { $half } mm, on the screen gauge
gauge-say-range = { $low } to { $high } mm, on the screen gauge

## Chat page

chat-nav = Chat
chat-head = Ask the bot of { $shop }
chat-log = Conversation
chat-by-us = The bot:
chat-by-you = You:
chat-begin = Ask me, one question at a time
chat-text = Your answer or question
chat-send = Send
chat-thinking = The bot is thinking
chat-waiting = Your message has arrived. The answer takes a little longer; it will appear here.
chat-offline = No connection just now. Nothing is lost: what you wrote is sent as soon as it works again.
chat-refused = That could not be sent. Please say it again in other words.
chat-too-large = That was too much. Please send less.
chat-photo = Send a photo
chat-send-photo = Send it
chat-photographed = A photo
chat-unfit = I cannot open that file. Send a photo as JPEG, PNG or WebP, or bring the wheel.
chat-menu = More
chat-menu-help = What can you do?
chat-menu-person = I want to talk to a person
chat-menu-privacy = What do you keep about me?
chat-menu-forget = Delete all about me
chat-their-photo = The photo that was sent with this message
chat-menu-new = Begin with another wheel

## Matrix

matrix-to = { $name }:

## Staff
## Read by the people of the shop, on a phone, one thumb free and greasy. A word where a sentence would do for others.

staff-owners-only = That is for an owner to see.
staff-lend-whom = To whom? “lend { $name } to Ben until 17:00”. A case code does as well as a name.
staff-lend-when = “{ $said }” is no time that I know. Say it as in “until 17:00”, “for 2h”, “until tomorrow”.
staff-lend-none = None of “{ $name }” hangs here.
staff-lend-stays = “{ $name }” is for use in the shop only, so it stays here.
staff-lend-all-out = All of “{ $name }” are out: { $rows }.
staff-lend-deposit = Deposit: { $money }.
staff-lent = “{ $name }” is out, with { $to }{ $due ->
        [yes] , until { $until }.
       *[no] .
    }
staff-not-lent = “{ $name }” is not out.
staff-not-lent-to = That one is not out with them. “{ $name }” is out: { $rows }.
staff-back-whose = Whose? { $names }. “returned { $name } from …”
staff-back = “{ $name }” is back from { $to }. It hangs: { $hangs }.
staff-out-none = Everything hangs where it belongs.
staff-out-head = { $count ->
        [one] One tool is out:
       *[other] { $count } tools are out:
    }
staff-out-row = – “{ $name }”: { $who }
staff-lent-line = Lent out: { $rows }.
staff-lent-to = { $to }, since { $since }{ $state ->
        [late] , due { $due }, late
        [due] , due { $due }
       *[open] {""}
    }
staff-lent-forgotten = somebody who wanted to be forgotten
staff-deed-lent = lent out a tool for it

staff-welcome =
    Hello { $name }. This account is { $called } of { $shop } now.
    { staff-how }
staff-how =
    Write what you see: “12 spl 23.4 stays”, “4n 40”.
    Tools: “tools for 4n 24-25”, “which does the small four fit”.
    Cases: “queue”, “touched”, “case CODE”, “photos CODE”, “claim CODE”, “release CODE”, “snooze CODE 2h”, “close CODE 4n 24 fitted”, “history CODE”.
    To somebody: “canned” lists replies, “say CODE NAME” sends one.
    Out of the shop: “lend small four to Ben until 17:00”, “returned small four”, “out”.
    “try” shows you what customers see, “done” ends it.{ $role ->
        [owner] {" "}“today” sums up the day.
       *[staff] {""}
    }
staff-hello =
    { $waiting ->
        [0] Nobody is waiting.
        [one] One person is waiting: “queue”.
       *[other] { $waiting } people are waiting: “queue”.
    }
    { staff-how }
staff-role-staff = staff
staff-role-owner = an owner
staff-called-staff = Staff
staff-called-owner = Owner
staff-not-understood = Not understood. Write what you see (“4n 40”), or “help”.
staff-corrected = A corrected or forwarded message changes nothing here. Write it anew.
staff-words-only = Words only, please. To send a picture as a customer would, say “try” first.
staff-cleared = Cleared. Next wheel?
staff-old-button = That button is for an earlier line. Write the line again.
staff-trying = You see what a customer sees now. Say “done” to end it.
staff-tried = Done. Back at the bench.

staff-heard = You see: { $clauses }.
staff-so-far = Could be: { $names }.
staff-most-likely = Most likely: { $fastening }. { $why }
staff-missing = Missing: { $name }.
staff-missing-mm = Missing: { $name }, in mm.
staff-puzzle = “{ $said }”: is it that { $proposed }? Then write it so.
staff-unread = “{ $said }” was left out.
staff-fits = { $share } %: { $fastening }.
staff-stop = Stop: { $clause }. No tool until somebody who knows it has looked.
staff-between = ;{" "}
staff-odd = Look again, it does not fit the rest: { $clauses }.
staff-two = Two kinds fit. Check before you pull.
staff-two-row = { $fastening }, { $share } %. { $tool }
staff-no-tool = No tool can be named from this.
staff-no-remover = { $fastening }. { $why }
staff-no-remover-known = No remover for it is known.
staff-tool = “{ $name }”, { $hangs }. We have { $count }.
staff-tool-none = { $tool }: none on the wall.
staff-tool-line = Tool: { $tool }
staff-torque = Back on: { $torque } N·m, or what is stamped on it.
staff-back-on = Back on: { $text }
staff-note = Note:
staff-note-here = Note: { $title }

staff-serves = “{ $name }” ({ $tool }) is for:
staff-serves-none = “{ $name }” ({ $tool }) takes nothing off by itself.
staff-kind-row = – { $fastening }
staff-hangs = { $hangs }. We have { $count }.
staff-hangs-nowhere = None on the wall.
staff-which-tool = Which one? { $names }.
staff-no-such-tool = No tool is called “{ $name }” here.
staff-tools-row = { $tool } For: { $fastenings }.

staff-no-case = There is no case { $code }.
staff-which-case = Which case? Put its code behind: “{ $command } K7M-4QX”.
staff-card-over = That card works no more. Ask for the case code.
staff-case = { $code }, opened { $opened }. { $found }
staff-found = { $status ->
        [answer] It is a { $names }.
        [look-alike] It is one of two: { $names }.
        [person] For a person: { $reason }.
        [older] It had an answer; today’s edition would ask on.
       *[question] Not finished yet.
    }
staff-case-told = { $by }: { $clauses }.
staff-case-odd = Does not fit the rest: { $clauses }.
staff-case-out = Ruled out, { $clause }: { $names }.
staff-case-out-more = { $names } and { $count } more
staff-case-likely = Likeliest: { $names }.
staff-case-share = { $share } % { $fastening }
staff-case-check = Check: { $check }
staff-case-photos = { $photos ->
        [one] One photo.
       *[other] { $photos } photos.
    }
staff-photos = { $count ->
        [one] The photo of { $code }:
       *[other] The { $count } photos of { $code }:
    }
staff-photo = { $code }, { $number } of { $count }.
staff-photos-none = { $code } has no photos yet.
staff-photos-elsewhere = { $code } has photos, but they cannot be shown here. Ask on the messenger.
staff-case-fetch = Fetch: { $tools }.
staff-case-edition = Answered { $at } with edition { $edition }.
staff-case-edition-old = Answered { $at } with edition { $edition }; today it is { $now }.
staff-case-was = It was told otherwise: { $names }. Today’s edition would not say so.
staff-touched-head = { $count ->
        [0] Today’s edition would answer every open case as it was answered.
        [one] Today’s edition would answer one open case otherwise:
       *[other] Today’s edition would answer { $count } open cases otherwise:
    }
staff-touched-row = – { $code }, { $at }: was told { $before }; now { $after }.
staff-touched-nothing = no tool
staff-case-closed = Closed by { $name }: { $what }
staff-case-state = { $state ->
        [waiting] Waiting for a person.
        [claimed] { $name } has it.
        [snoozed] { $name } has it, asleep until { $until }.
       *[closed] Needs nobody any more.
    }
staff-fetch-row = “{ $name }”, { $hangs }

staff-queue-empty = Nobody is waiting.
staff-queue-head = { $count ->
        [one] One case.
       *[other] { $count } cases.
    }
staff-queue-row = { $code }, { $since }, { $reason }. { $state }
staff-queue-more = And { $count } more.
staff-queue-waiting = Nobody has it.
staff-queue-claimed = { $name } has it.
staff-queue-mine = You have it.
staff-queue-snoozed = { $name }, asleep until { $until }.
staff-reason-asked = they asked
staff-reason-doubt = in doubt
staff-reason-unlisted = fits nothing listed
staff-reason-no-remover = no remover is sold
staff-reason-referral = one for a person
staff-reason-staff = taken by staff

staff-claimed = { $code } is yours.
staff-claimed-already = You have { $code } already.
staff-claimed-other = { $name } has { $code }.
staff-released = { $code } waits for somebody else.
staff-not-held = Nobody has { $code }.
staff-not-yours = { $name } has { $code }, so it is theirs to do. Ask them.
staff-snoozed = { $code } sleeps until { $until }, or until they write.
staff-when = Until when? “snooze { $code } 2h”, “snooze { $code } until 15:00”.
staff-awake = { $code } is awake: its time has come.
staff-awake-wrote = { $code } is awake: they have written.
staff-close-how = What was it, and did it fit? “close { $code } 4n 24 fitted”, “close { $code } did not fit”.
staff-close-which = “{ $said }” could be: { $names }. Say more, then close it again.
staff-close-unknown = “{ $said }” says nothing that I can write down. Say it as in “4n 24”, or “not listed”.
staff-closed = { $code } is closed: { $what }
staff-was = { $fastening }.
staff-was-unknown = nobody knows what it was.
staff-fitted-yes = The remover fitted.
staff-fitted-no = The remover did not fit.
staff-fitted-untried = No remover was tried.
staff-canned-none = There are no canned replies. They are in replies.yaml in the shop folder.
staff-canned-head = “say CODE NAME” sends one:
staff-canned-row = – { $id }: { $title }
staff-canned-unknown = There is no reply “{ $name }”. There are: { $names }.
staff-said = Sent to { $code }: “{ $text }”
staff-unreachable = { $code } cannot be reached by any channel.
staff-from-person =
    From { $name } at { $shop } (a person):
    { $text }
staff-history-none = Nobody has done anything with { $code } yet.
staff-history-head = { $code }:
staff-history-row = { $at } { $name } { $what }
staff-deed-claimed = took it
staff-deed-released = gave it back
staff-deed-snoozed = let it sleep until { $until }
staff-deed-closed = closed it: { $what }
staff-deed-said = sent “{ $id }”
staff-deed-left = left; it waits again
staff-deed-other = did { $what }

## The day so far, for an owner who asks

digest-head = { $day }, { $time }: { $count ->
        [0] nobody has asked anything yet today.
        [one] one conversation today.
       *[other] { $count } conversations today.
    }
digest-answer = – { $count } got an answer
digest-look-alike = – { $count } ended with two kinds that still fit
digest-person = – { $count } went to a person
digest-stopped = – { $count } stopped
digest-open = – { $count } not finished
digest-closed = Closed today: { $count }. The tool fitted: { $fitted }. It did not fit: { $misfits }.
digest-nobody-waits = Nobody is waiting for a person.
digest-waiting = { $count ->
        [one] One is waiting for a person, since { $since }.
       *[other] { $count } are waiting for a person, the first since { $since }.
    }
digest-held = { $count ->
        [one] One case is in somebody’s hands.
       *[other] { $count } cases are in somebody’s hands.
    }
digest-asleep = { $count ->
        [one] One case is asleep.
       *[other] { $count } cases are asleep.
    }
digest-overdue = { $count ->
        [one] One note is due to be read again:
       *[other] { $count } notes are due to be read again:
    }
digest-overdue-row = – { $title }
digest-overdue-more = – and { $count } more
digest-lent =
    { $count ->
        [one] One tool is lent out
       *[other] { $count } tools are lent out
    }{ $late ->
        [0] .
        [one] , one ought to be back: “out”.
       *[other] , { $late } ought to be back: “out”.
    }

## Helping a rider elsewhere
## What begins `mentor-forward`, `mentor-consent` or `mentor-from` is read by the rider, all else by whoever helps.

mentor-name-it = Good of you to help. What shall we call this one? The bike will do: “the blue commuter”. Say “no” if you did not mean that.
mentor-not-meant = All right. Nothing was opened.
mentor-opened =
    “{ $name }” is open. I write each question so that you can send it on as it is. Then tell me what they say.
    They can also answer me themselves: say “invite”.
mentor-hint =
    For you, if they are not sure how:
    { $hint }
mentor-send-on = To send on, as it is
mentor-what-back = “{ $name }”: what do they say?
mentor-forward-unsure = “I don’t know” is a fine answer.
mentor-asked-next = Asked next: { $question }
mentor-copy = “{ $name }”, the rider: “{ $said }”
mentor-summary-offer = Say “summary” for a text to send on.
mentor-from-helper = From your helper.
mentor-from-helper-left = Your helper has left. You and I go on.
mentor-said-rider = From the rider: { $clauses }.
mentor-said-mentor = From their helper: { $clauses }.
mentor-forward-said-rider = You said: { $clauses }.
mentor-forward-said-mentor = Your helper said: { $clauses }.
mentor-rider-has-it = They have all of it. Say “summary” for a text to send on.

mentor-invited = Send this on to the rider of “{ $name }”. I ask them first whether they want to. Until they say yes, you and I go on.
mentor-forward-invite =
    You can answer the questions about your wheel yourself. I am a bot, and I help at { $shop }.
    { $link ->
        [none] Write this to me: { $code }
       *[other] Open { $link }, or write this to me: { $code }
    }
    It works once, until { $until }.
mentor-join-page = You were asked to answer about your wheel here. Press “Send”, and I tell you first who sees what.
mentor-code-own = That code is for the rider. Send it on to them.
mentor-code-over = That code does not work any more. Ask whoever sent it for a new one.
mentor-code-joined = You are in it already.
mentor-consent =
    I am the bot of { $shop }. Somebody who helps you would like me to ask you about your wheel directly.
    If you say yes, they see what you answer, and can correct it. The people of { $shop } can read it when they help. I do not tell anybody your name.
    Say “leave” when you have had enough. Say “forget me”, and all of it is deleted.
    Is that all right?
mentor-consent-again = Before we go on, I need a yes or a no from you. May I ask you directly? Your helper then sees what you answer.
mentor-consent-yes = Yes, ask me
mentor-consent-no = No, thank you
mentor-consent-given = Thank you. Here we go.
mentor-consent-refused = All right. Your helper gets nothing from me. Write to me whenever you like.
mentor-consent-left = All right, you have left, and your helper knows. They keep what you have answered so far.
mentor-joined = The rider of “{ $name }” answers me directly now. You read each answer here. You can still answer for them, or correct something.
mentor-refused = The rider of “{ $name }” would rather answer you. So we go on as before.
mentor-left = The rider of “{ $name }” has left. The questions come to you again.
mentor-forgot = The rider of “{ $name }” has had everything deleted, and so that case is gone. Say “I help somebody” to begin again.

mentor-help =
    While you help somebody, these work, too:
    “cases” lists those whom you help. Say the name of one to go on with it.
    “invite” lets the rider answer me. “summary” gives you a text to send on.
    “rename it to the red racer” changes the name. “finish” puts a case away.
mentor-consent-help = Somebody helps you here and sees what you answer. Say “leave” to end that.

mentor-cases-head = You help with:
mentor-cases-row = – “{ $name }” ({ $code }): { $stands }
mentor-cases-foot = Say a name to go on with it.
mentor-cases-none = You help nobody just now. Say “I help somebody” to begin.
mentor-stands-asked = { $question } is asked
mentor-stands-answer = has its answer
mentor-stands-look-alike = two kinds still fit
mentor-stands-person = a person should look
mentor-stands-stopped = stopped
mentor-stands-begun = just begun
mentor-nameless = no name yet
mentor-switched = Now “{ $name }”.
mentor-which = Which one? { $names }.
mentor-renamed = It is called “{ $name }” now.
mentor-rename-how = What shall it be called? Say “rename it to the red racer”, for instance.
mentor-finished = “{ $name }” is put away. Its code is { $code }, should you need it again. Here is what to send on.
mentor-summary = “{ $name }”, to send on:

mentor-summary-open = We do not know yet what holds the sprockets.
mentor-known = What we know: { $clauses }.
mentor-found-person = A person should look at this wheel before any tool goes on.
mentor-remover = Remover: { $tool }. { $direction }
mentor-remover-if = If it is { $fastening }: { $tool }. { $direction }
mentor-code = At { $shop }, say this code: { $code }.
mentor-privacy = In this case, whoever helps and the rider both see the answers.

## While a person of the shop has a conversation, and what their room is told
## `relay-room…`, `relay-topic` and those from `relay-edited` on are read by the staff; each begins with the case's code.

relay-back = Back to the bot
relay-stands = A person at the shop has your case. I am the bot, and I keep quiet: what you write here goes to them. Say “back to the bot” to go on with me.
relay-bot-here = I am the bot, and I am here already.
relay-returned = This is the bot again.
relay-returned-by = This is the bot again: { $name } has handed your case back to me.
relay-handed = I have passed your case on. A person of { $shop } answers you here, and each of their messages says who writes. I am the bot, and I keep quiet now: what you write goes to them, photos too. To go on with me, say “back to the bot”.
relay-handed-shut = Nobody is at { $shop } just now. I have passed your case on, and a person answers you here once the shop is open. What you write is kept for them, photos too. You need not wait: say “back to the bot”, and you and I go on.
relay-taken = (I am the bot. A person has your case now, and I keep quiet: what you write here goes to them. Say “back to the bot” to go on with me.)
relay-cannot-pass = I am the bot. I can pass on words and photos only. Please write it.
relay-from-photo = From { $name } at { $shop } (a person): a photo.

relay-topic = { $code }
relay-room-how =
    To answer, reply to this message or to a later one of mine about this case. Only such replies of staff go out; anything else stays among you.
    “Back to the bot”, as a reply, gives the case back to me.
relay-room-said =
    { $code }, { $who ->
        [mentor] their helper
       *[person] the customer
    } { $corrects ->
        [yes] corrects themselves
       *[no] writes
    }:
    { $text }
relay-room-thing = { $code }: { $who ->
        [mentor] their helper
       *[person] the customer
    } sent something that I cannot pass on. I have asked for words or a photo.
relay-room-photo = { $code }: a photo from the customer.
relay-room-photo-lost = { $code }: the customer sent a photo that cannot be had. Ask for another one.
relay-room-went-on = { $code }: the customer goes on with the bot. Reply here to take over again.
relay-room-named = { $code }: the bot has named { $names } since.
relay-room-forgotten = { $code }: the person has deleted everything. The case is gone, and so is what you wrote about it. Please delete what stands above.
relay-edited = { $code }: I do not pass on corrections. They have your message as it was. Reply once more with what is right.
relay-forwarded = { $code }: I do not pass on what is forwarded. Write it yourself, as a reply.
relay-words-only = { $code }: I can pass on words and photos only. This did not go out.
relay-closed = { $code } is closed, so this did not go out. Write “claim { $code }” to me in private to open it again, then reply once more.
relay-unreachable = { $code }: this did not go out. I cannot write to them just now.
relay-failed = { $code }: this did not reach them.
relay-photo-lost = { $code }: your photo could not be passed on. Send it once more, as a reply.
relay-not-handed = { $code }: the bot has it already.
relay-handed-back = { $code }: the bot has it again.
staff-deed-answered = wrote to them: { $text }
staff-deed-handed-back = gave it back to the bot
