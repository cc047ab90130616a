### The program's own words, in English: what a person reads that belongs to no topic.
### Kind, short, exact. The most important thing first; no blame.

## How times, money and numbers are written where this language is spoken (a code such as en-GB)

locale = en-GB

## Opening and small talk

greeting =
    Hello, I’m the bot at { $shop }. { $purpose }
    Just tell me what you see. Want a person? Say “person”.
greeting-in-short = Hi, I’m the bot at { $shop }.
hello = Hello. Let’s look at your wheel.
hello-again = Good to hear from you.
welcome = You’re welcome.
still-open = This is the one still open:
welcome-back = Welcome back. Here’s what I have so far: { $known }.
help =
    I’m the bot at { $shop }. { $purpose }
    These words always work:
    “how do I check?” shows you how to find out.
    “I don’t know” is a fine answer.
    “back” takes back your last answer. “change” changes any answer. “why” shows what I have so far.
    “restart” starts again. “stop” ends the chat. “person” gets you a person.
    “my code” gives you your case code. “privacy” says what I keep, and “forget me” deletes it.
    Helping somebody who’s elsewhere with their wheel? Say “I’m helping somebody”.
goodbye = Goodbye. Your case code is { $code }.
    .steps = Goodbye. Say “steps”, and we’ll carry on right there. Your case code is { $code }.
message-cut = That was a long message, so I only read the start of it.
topic-changed = { $count ->
        [one] My questions have changed since we last spoke, and one of your answers no longer fits. I kept the rest.
       *[other] My questions have changed since we last spoke, and { $count } of your answers no longer fit. I kept the rest.
    }

## What was understood
## An echo, in turn each of its ways: `said` is what was said, `start` the same as a sentence begins.

echo-one =
    .first = { $start }, then.
    .second = Right: { $said }.
    .third = OK, { $said }.
    .fourth = Got it: { $said }.
    .fifth = { $start }. Thanks.
echo-several =
    .first = So: { $said }.
    .second = Right: { $said }.
    .third = OK: { $said }.
    .fourth = Got it: { $said }.
    .fifth = Thanks: { $said }.
echo-unsure =
    .first = No matter.
    .second = That’s fine.
    .third = Never mind.
    .fourth = All right, we’ll do without.
    .fifth = Don’t worry about it.
echo-both = { $before }, and { $last }
instead-of = (Earlier you said: { $clauses }.)
said-unsure = you’re not sure about { $name }
said-denied = it’s not true that { $clause }
said-marking = the maker’s name is { $makers }
    .brief = { $makers }
amount-range = { $low } to { $high }
amount-mm = { $amount } mm
amount-about = about { $amount } mm
amount-over = more than { $amount } mm
amount-under = less than { $amount } mm
amount-by = { $amount } { $means }
means-calliper = with a calliper
means-rule = with a ruler
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

another-number = Another number
write-the-number = Just write how many.
aside-unsure = I don’t know
aside-how = How do I check?
aside-back = Back
does-not-fit-together = What you’ve told me doesn’t quite go together, so let’s look once more.
does-not-fit = That doesn’t quite fit what you told me before, so let’s look once more.
decides-direction = This decides which way it turns, so I ask to be sure.
looked-at = I think you’re looking at { $fastening }. Let’s find the ring just outside it.
one-more-thing = One more thing, to make sure the tool goes on:
not-a-choice = That button belongs to another question. Here’s the one we’re on now.
not-understood-plain = Sorry, I didn’t get that. Answer in your own words or by number, or say “I don’t know”.
    .second = I still don’t follow, sorry. A few plain words are best.
    .third = That didn’t get through to me either.
not-understood-empty = Your message was empty. Answer in your own words or by number, or say “I don’t know”.
not-understood-symbols = I can only read words and numbers. Answer in your own words or by number, or say “I don’t know”.
not-understood-off-topic = I only know about taking rear sprockets off. For anything else, say “person”.
not-understood-hostile = I’m sorry this is no fun. Let’s carry on, or say “person” to talk to somebody.
notes-say = In our notes, “{ $section }”:
notes-say-plain = In our notes:
notes-words = It says: “{ $words }”
notes-care = That’s only part of it. Before you start, read all of it, with its cautions.
notes-depend = That depends on what holds your sprockets on, so let’s find that out first.
notes-depend-see = That depends on what holds your sprockets on, and I’m not sure yet. Here are our notes, in case it’s one of these:
notes-for-each = Our notes on that:
example-answers = For example, write “{ $first }” or “{ $last }”.
example-number = For example, write “{ $number }”.
offer-person = Would you rather talk to somebody? Say “person”.
puzzle-unit = You wrote “{ $said }”. Do you mean { $proposed }? Yes or no?
puzzle-range = You wrote “{ $said }”. Do you mean { $proposed }? Yes or no?
puzzle-choice = You wrote “{ $said }”. Do you mean { $proposed }? Yes or no?
puzzle-conflict = You wrote “{ $said }”. Do you mean { $proposed }? Yes or no?
puzzle-unit-plain = I’m not sure which unit “{ $said }” is in. Could you give it in mm?
puzzle-range-plain = “{ $said }” is too high or too low for { $name }. I’d expect something from { $least } to { $most }.
puzzle-choice-plain = “{ $said }” isn’t one of the answers to this question.
puzzle-conflict-plain = You told me two different things about { $name }: “{ $said }”. Which one is right?
puzzle-likely = You mean { $proposed }? Yes or no?
puzzle-likely-plain = I’m not sure what “{ $said }” says about { $name }. Could you put it another way?
puzzle-yes-button = Yes
puzzle-no-button = No
# Asked back, and something else was told instead.
puzzle-set-aside = I’ll leave out “{ $said }” for now.
puzzle-no = All right, I won’t count that.
known-already = I’ve got that already: { $clauses }.
insisted = All right, I’ll take your word for it.
not-read = I didn’t get this part: “{ $said }”.
passed-other = I’ve left out “{ $said }”: I only go by the rear wheel in front of you.
passed-hearsay = I’ve left out “{ $said }”: I go by what you can see for yourself.
perhaps-asked = I’m not sure what you’re asking. { $count ->
        [one] Is it this?
       *[other] Is it one of these?
    } If not, the shop knows: { $contact }
# What is offered where it is not clear what was asked; the topic has more of these.
may-ask-open-now = Are you open now?
may-ask-hours = Opening hours
may-ask-open-day = Which days are you open?
may-ask-price = What does it cost?
may-ask-how-long-shop = How long do you take?
may-ask-do-it-for-me = Can you do it for me?
may-ask-tool-here = Have you got the tool?
may-ask-buy-part = Do you sell parts?
may-ask-why = Why do you ask?
may-ask-who = Are you a bot?
may-ask-left = How many more questions?
may-ask-privacy = What do you keep of this?
may-ask-where = Where are you?
may-ask-telephone = What’s your number?
mood-question = I can’t answer that one, I’m afraid. The shop can: { $contact }
mood-plan = No hurry. I’ll be here.
mood-wish = We’ll get there. First I need to know what you’ve got.
mood-if = Let’s see which it is.
mood-hearsay = I’d rather go by what you can see for yourself.
mood-memory = It’s safest to go by what you see today.
mood-other = I only go by the rear wheel in front of you.
mood-front = That’s the front. I need the rear wheel.
mood-about = I’m not sure what you mean by that.
mood-chat = I didn’t hear an answer in that.
mood-trailing = I only go by the rear wheel in front of you.
mood-belief = Could you have another look? I go by what you see now.
who-answers = I’m a bot, a program at { $shop }. Say “person” if you’d like one of us.
questions-left = Most people need about five questions. You’ve answered { $count ->
        [0] none yet
        [one] one
       *[other] { $count }
    }.

## Asked in between
## One or two sentences each; the open question follows.

enquiry-open-now = Yes, we’re open until { $until }.
    .asked-shut = No, we’re open until { $until }.
enquiry-open-until = We’re open until { $until }.
enquiry-shut-now = Not just now. { $next }
    .asked-shut = Yes, just now we’re shut. { $next }
enquiry-open-on = Yes, on { $day }: { $hours }.
    .asked-shut = No, on { $day } we’re open: { $hours }.
enquiry-shut-on = No, we’re shut on { $day }s.
    .asked-shut = Yes, we’re shut on { $day }s.
enquiry-closed-on = No, on { $day } we’re shut ({ $reason }).
    .asked-shut = Yes, on { $day } we’re shut ({ $reason }).
enquiry-hours = We’re open { $rows }.
enquiry-hours-row = { $days } { $hours }
enquiry-never-open = We have no fixed hours.
enquiry-closed-day = We’re shut on { $first } ({ $reason }).
enquiry-closed-days = We’re shut from { $first } to { $last } ({ $reason }).
enquiry-no-closed-days = We’ve no closed days coming up.
enquiry-else-open = No other closed days are planned so far.
enquiry-likelier = So far it’s most likely { $fastening }. I’d be right about { $tenths } times in ten. Your next answers may change that.
enquiry-likelier-early = It’s too early to say. A few more answers, and I can.
enquiry-where = We’re at { $street }.
enquiry-telephone = You can reach us here: { $ways }.
enquiry-service = { $name }: { $terms }.
enquiry-or-us = Or let us do it: { $terms }.
enquiry-gladly = Yes, gladly.
enquiry-book = I can’t book you in from here: just bring the wheel, or ring { $contact }.
# Before somebody comes.
visit-when = No appointment needed. To be sure of a place, name a day: “Can I come on Thursday at four?”
visit-at = { $day }, { $at }
visit-in = { $day }, { $part }{ $hours ->
        [none] {""}
       *[other] {" "}({ $hours })
    }
part-morning = morning
part-afternoon = afternoon
part-evening = evening
visit-not-then = { $at ->
        [none] { $part ->
            [none] We’re
            [morning] Not in the morning:
            [afternoon] Not in the afternoon:
           *[evening] Not in the evening:
        }
       *[other] Not at { $at }:
    } on { $day } we’re open { $hours }.
visit-just-come = No appointment needed, just bring the wheel.
visit-too-far = I can only ask { $days } days ahead. Which earlier day would do?
visit-ask = Shall I ask them for { $visit }?
visit-yes = Yes, ask them
visit-no = No, leave it
visit-asked = I’ve asked them. You’ll read their answer here.
visit-not-asked = Fine, I’ve asked for nothing.
visit-cancelled = Right, you’re not coming. I’ve told them.
visit-over = There’s nothing to ask them for just now.
visit-full = Sorry, { $visit } is full.{ $free ->
        [none] {" "}Which other day would do?
       *[other] {" "}Still free: { $free }. Which one?
    }
request-unanswered = Sorry, nobody here got round to answering you about { $what }. Ask again for another time, or ring us.
visit-stands-asked = I’ve asked them for { $visit }. They haven’t answered yet. You’ll read it here.
visit-stands-yes = Yes, they’re expecting you: { $visit }.
visit-asked-already = That’s been asked for already. You’ll read their answer here.
visit-agreed = Yes, see you on { $visit }. “calendar” gives you that as a file.
visit-refused = Sorry, not on { $visit }{ $why ->
        [none] . Ask me for another day if you like.
       *[other] : { $why }. Ask me for another day if you like.
    }
hold-which = Which tool? Once I’ve named it I can ask, or say its name: “keep me the chain whip until Friday”.
hold-not-lent = “{ $name }” stays in the shop, so I can’t keep it for you. You can use it here.
hold-not-from-here = “{ $name }” is here: { $hangs }. I can’t keep it for you from here, but they can: { $contact }.
hold-ask = “{ $name }” is here. Shall I ask them to keep it for you until { $until }? { $days ->
        [one] They keep tools for a day
       *[other] They keep tools for { $days } days
    } at most.
hold-none = Sorry, somebody else asked for “{ $name }” first. No other is free.
hold-agreed = Yes, “{ $tool }” is kept for you until { $until }.
hold-refused = Sorry, we can’t keep “{ $tool }” for you{ $why ->
        [none] .
       *[other] : { $why }.
    }
parts-head = We have in its place:
part-line = – { $name }{ $thread ->
        [none] {""}
       *[other] {" "}(thread { $thread })
    }{ $price ->
        [none] {""}
       *[other] : { $price }
    }, { $stock ->
        [0] to order
       *[other] in stock
    }
parts-which = How many sprockets has yours? Then I can say which one.
buy-not-known = That depends on what you have. A few more answers, and I’ll tell you.
buy-tool = The tool is “{ $name }”. { $offer }
buy-parts = Nothing gets used up: what comes off goes back on. If it’s worn, they know what replaces it: { $contact }.
ready-done = { $what } is done, you can come for it. { $open }
ready-not-yet = { $what } is here with us{ $wanted ->
        [none] , and not done yet.
       *[other] , for { $wanted }. It’s not done yet.
    } They know how far it is: { $contact }.
ready-ask = Is yours here already? They know how far it is: { $contact }. Or say “person”, and I’ll pass it on.
calendar = { $visit }, { $place }.
calendar-none = No visit is agreed on yet. “Can I come on Thursday at four?”
calendar-title = Wheel to { $shop }
calendar-about = Case { $code }. { $contact }
calendar-link = For your calendar: { $url }
enquiry-buy = I don’t know what parts we have in. Ring { $contact }, and they’ll look.
enquiry-ask-the-shop = I don’t know that, but they do: { $contact }
enquiry-again = Of course.
enquiry-tool-in = Yes: “{ $name }”, { $hangs }, { $count ->
        [one] one there now
       *[other] { $count } there now
    }. { $offer }
enquiry-tool-out = Not just now: “{ $name }” is out. Ring { $contact } to hear when it’s back.
enquiry-tool-none = No, we don’t have one. Ring { $contact }: somebody may know who does.
enquiry-tool-sold = Yes: “{ $name }”. { $offer }
enquiry-tool-not-sold = No, we don’t sell that one. { $offer }
enquiry-tool-not-yet = No tool to borrow for this one yet: one of us has to see it first. { $contact }
enquiry-tool-needed = You need { $tool }.
enquiry-tool-unknown = We lend most tools, for a deposit of { $deposits }. Once we know which one you need, I’ll say if it’s on the wall.
enquiry-deposit = { $deposits }, by the tool. You get it back when you bring the tool back.
enquiry-deposit-of = “{ $name }”: { $offer }

## Commands

how-nothing = I’m not asking anything just now. Say “why” to see what I have so far, or “restart” to start again.
back-done = I’ve taken this back: { $clauses }.
back-plain = Back one step.
back-nothing = There’s nothing to take back yet.
change-done = Once more: { $name }.
change-nothing = You haven’t told me anything yet, so there’s nothing to change.
change-which = Which answer do you want to change? Send its number.
change-row = { $number }. { $answer }
restarted = Let’s start again.
stopped = We’ll stop here. Nothing is lost: write again and we’ll carry on where we were. Your case code is { $code }.
known-so-far = So far: { $reasons }.
known-nothing = I don’t know anything about your wheel yet.
still-possible = Still possible: { $names }.
after-answer = The answer stands. Tell me if something looks different. Case { $code }.
after-look-alike = Two kinds still fit. Tell me what the check shows, or say “person”. Case { $code }.
after-closed = The shop has closed this case. Say “person” if you need somebody again, or “restart” for another wheel. Case { $code }.
after-person = A person should look at this. If you’ve noticed anything else, tell me. Case { $code }.
after-stopped = We’d stopped. Say “continue” to carry on, or “restart”. Case code: { $code }.

## About the conversation itself

your-case = Your case code is { $code }. Say it at the counter, and they’ll see what you told me.
privacy =
    I keep what you tell me about your wheel and what I answer, so that we can carry on later. The people at { $shop } can read it when they help you.
    I keep your account on this channel encrypted, and use it only to answer you. I don’t keep your name, and I don’t pass any of this on. If you give somebody the link to your card, they can see your answers.
    Then I delete it:
    { $rows }
    Say “export” for a copy, or “forget me”, and I’ll delete it now. Questions? { $contact }
privacy-row = - { $what } { $long }
kept-cases = Your answers and mine, so that we can carry on:
kept-cases-long = { $days } after the last word
kept-threads = What you and the shop wrote to each other, so that both can look it up:
kept-photos = Photos you send, so that the shop can look at your wheel:
kept-photos-long = { $days } after they came
kept-visits = Visits and tools you asked for, so that the shop knows who’s coming:
kept-visits-long = { $days } after the day
kept-loans = Your name with a tool you borrowed, so that it finds its way back:
kept-loans-long = until it’s back, { $days } at most
kept-links = Links and codes I made for you, so that they work:
kept-links-long = { $days } after they run out
kept-receipts = The messages I sent, so that I can change their buttons:
kept-receipts-long = { $days }
kept-digests = That a message came, but not what it says, so that I take it only once:
kept-digests-long = { $days }
kept-aside = A message I got stuck on, so that somebody can look into it:
kept-aside-long = { $days }
kept-backups = Copies of all this, in case the machine breaks:
kept-by-operator = until the shop deletes them
kept-with-cases = as long as your answers
kept-days = { $count ->
    [one] one day
   *[other] { $count } days
}
kept-months = { $count ->
    [one] one month
   *[other] { $count } months
}
kept-years = { $count ->
    [one] one year
   *[other] { $count } years
}
export = Here’s what I’ve kept about you.
export-link = With your photos, for one day: { $url }
forget =
    I’d delete your answers, your photos, your visits and links, what you and the shop wrote, and how I reach you. Copies I keep of what I told others about it go, too.
    I can’t reach what already stands in a chat, here or in the shop’s room. Delete that yourself, or ask the shop. Old backups may still hold it till they’re deleted; nothing brings it back from them.
    Shall I delete it all? This can’t be undone.
forget-yes = Yes, delete it
forget-no = No, keep it
kept = All right, I haven’t deleted anything.
code-unknown = I don’t know that code. Maybe it has a slip in it, or has run out.
no-such-command = That’s no command of mine. Just say what you see, or “help” for what I can do.
move-asked = If that’s your case, I’ve just asked you about it on the channel where you started it. Say yes there within 15 minutes, and we’ll carry on here.
move-confirm = Somebody on { $channel } has given the code of this case, to carry on with it there. Was that you?
move-yes = Yes, that was me
move-no = No, that wasn’t me
move-over = That was too long ago. Ask there once more.
moved = All right, done. You can carry on here as well.
moved-here = That was a yes, so let’s carry on here.
stayed = Good that I asked. Nobody else gets your case.
channel-telegram = Telegram
channel-matrix = Matrix
channel-page = the web page
newcomer = Hi, I’m the bot at { $shop }. { $name } and I are looking at a wheel here. Now that there are more of us, I only hear what replies to me or has my name in it. Are you here for { $name }’s wheel?
    .again = Whose wheel do you mean, { $name }’s or your own?
newcomer-theirs = Yes, { $name }’s wheel
newcomer-own = No, my own
newcomer-free = Hi, I’m the bot at { $shop }. Now that there are more of us, I only hear what replies to me or has my name in it.
newcomer-asked = I’ve just asked { $name } whether you may answer, too. That takes a yes, as a reply to me.
newcomer-waits = { $name } hasn’t said yes yet. Until then, { $name } answers me, and you can help to look.
newcomer-confirm = Somebody new here says it’s about your wheel. May they answer as well?
newcomer-let = Yes, they may
newcomer-not = No, only me
put-to-another = I put that to { $name }. For a wheel of your own, reply “mine”, and I’ll ask you as well.
    .own = I put that to { $name }. Yours is still open.
language = Which language would you like? I speak: { $languages }.
language-one = So far I only speak { $language }.

## Delivery

set-aside = I’m sorry: something went wrong with your last message, and it wasn’t your fault. Please say it again in other words, or say “person”.
loop-stopped = You seem to be a program, so I stop talking here. If you’re a person, write again in ten minutes, or ask at the shop.
too-many-messages = That’s more than I can read at once, so I’ve skipped the rest. Give me a minute, then send me the last bit again.
case-full = This chat had got very long, so I’ve started a fresh one. The old one is kept as { $code }.
stale-press = That button is out of date: something has changed.
sent-photo = Thank you. I can’t look at pictures, so I’ll keep it for the person who may look at your wheel.
sent-photo-too-many = I have { $count } photos of this wheel now, and can’t keep any more. Bring the rest on your phone.
sent-photo-lost = { $reason ->
        [too-large] Sorry, I couldn’t keep your photo: it’s too large for me. Send a smaller one, or a screenshot of it.
        [heic] Sorry, I couldn’t keep your photo: it’s a HEIC file, and I can’t open those. Send a screenshot of it.
        [no-picture] Sorry, I couldn’t keep that: it’s no photo that I can open. Send it as an ordinary photo.
        [broken] Sorry, I couldn’t keep your photo: a part of it is missing. Send it once more, or take a new one.
        [empty] Sorry, I couldn’t keep that: there’s nothing in the file. Send the photo once more.
        [too-many] Sorry, I couldn’t keep your photo: I have as many of this wheel as I can keep. Bring it on your phone.
       *[other] Sorry, your photo didn’t reach me. Send it once more, or bring it on your phone.
    }
sent-undecryptable = I can’t read your last message, because its key didn’t reach me. Please write it once more. If that doesn’t help, write to me in a room without encryption, or ask a person at the shop.
sent-other = I can only read words and numbers. Please put it in words.
forgotten = I’ve deleted everything I had kept about you. Write to me whenever you like, and we’ll start from scratch.

## The end

found-sure = I’m sure: you have { $fastening }.
found-fairly-sure = I’m fairly sure: you have { $fastening }.
found-likely = Most likely you have { $fastening }.
found-two = Two kinds still fit: { $first }, or { $second }. They take different tools, so never force one on to try it.
glance-sure = I’m sure: it’s { $fastening }.
glance-fairly-sure = I’m fairly sure: it’s { $fastening }.
glance-likely = Most likely it’s { $fastening }.
glance-two = Two kinds fit: { $first }; or { $second }.
two-apart = { $odds } { $check }
# How much likelier the first of two kinds is.
odds-even = One is about as likely as the other.
odds-two-in-three = Two times in three it’s the first.
odds-four-in-five = About four times in five it’s the first.
odds-nine-in-ten = About nine times in ten it’s the first.
odds-nineteen-in-twenty = It’s nearly always the first: 19 times in 20.
glance-cautions = { $text } { $more ->
        [0] How to avoid it comes with the steps.
        [one] This and 1 more caution come with the steps.
       *[other] This and { $more } more cautions come with the steps.
    }
glance-cautions-person = { $text }{ $more ->
        [0] {""}
        [one] {" "}There’s 1 more caution: say “cautions”.
       *[other] {" "}There are { $more } more: say “cautions”.
    }
how-sure-sure = I’m sure of it.
how-sure-fairly-sure = I’m fairly sure of it.
how-sure-two = Two kinds still fit.
how-sure-likely = It’s the likeliest one, no more than that.
changed-answer = That changes it.
because = Why: { $reasons }.
against = This doesn’t fit, and the rest outweighs it: { $reasons }. Check it once more before you pull.
    .short = This doesn’t fit: { $reasons }.
would-change = If { $finding }, it’s more likely to be { $rival }. In that case, stop and tell me.
tool-here = Remover: { $tool }. Ours: “{ $name }”, { $hangs }, { $terms }.
tool-here-either = { $tool }: “{ $name }”, { $hangs }.
tool-not-here = Remover: { $tool }. We don’t have one on the wall just now.
tool-not-here-either = { $tool }: not on our wall just now.
tool-line = “{ $name }”: { $hangs }.
tool-offer = “{ $name }”: { $offer }
terms-deposit = deposit { $money }
terms-lent = no deposit
terms-price = { $money } to buy
terms-sold = to buy
terms-shop-use-only = to use here only
offer-lends = You can borrow it.
offer-lends-deposit = You can borrow it for a deposit of { $money }.
offer-sells = You can buy one.
offer-sells-price = You can buy one for { $money }.
offer-shop-use-only = You can only use it in the shop.
also-needed = You’ll also need:
accessory-here = { $accessory } (ours: “{ $name }”, { $hangs })
refit-line = Putting it back: { $text }
look-alike-row = For { $fastening }. { $tool }
separating-check =
    Here’s how to tell them apart:
    { $check }
notes-head = Our notes, step by step:
note-head = Our note:
press-steps = Take me through it
press-cautions = Cautions
press-why = Why?
press-needs = What else do I need?
press-price = Price and times
press-refit = Putting it back
press-buying = Buying new
press-shop = Let the shop do it
press-how-to-tell = Tell them apart
step-line = Step { $number } of { $count }. { $text }
steps-hurt = See to that first: press a clean cloth on it, and get help if it’s deep. The wheel can wait, or bring it to us.
steps-resumed = Here’s where we were.
steps-left = We’ll stop here. Nothing is lost: say “steps” to carry on. Case { $code }.
steps-finished = That’s all of it. Well done. Have the bike checked before you ride it.
steps-good = Good. Now this:
steps-and-now = And how is it now: { $done }, or { $trouble }?
    .alone = First this has to be so: { $done }. Is it?
    .plain = Is this step done by now?
steps-what-came = What came off: the tool, or the sprockets? If it was the tool, say “it slips”.
steps-cannot-say = That I can’t judge from here. Which is nearest: { $exits }? Or say “person”.
    .alone = No rush. Say { $exits } once that’s done. Can’t do it? Say “person”.
    .second = I still can’t tell. Pick one: { $exits }. Or say “person”, and one of us takes over.
steps-not-broken = Good, so nothing’s broken. Here’s where we were.
work-stopped = Not on this one any more: another try takes the last of the edges, and then nothing grips. Leave it for us. { $code } has what you tried.
steps-stuck-still = Then leave it for us. Bring the wheel in: { $code } has what you tried.
steps-needs = You need:
steps-needs-nothing = You need nothing of ours for this one. Can’t get any further? Bring the bike in.
not-yet = I can tell you once we know what it is.
# What is said where there is nothing of the sort to say.
which-number = Is “{ $said }” { $names }? Say it with its name, and I’ll look again.
too-early-steps = The steps come as soon as we know what it is. Just this first:
too-early-done = Good. And what did you find?
too-early-cautions = Each caution comes with its step, once we know what it is. Just this first:
too-early-later = That comes once we know what it is. Just this first:
afterwards-unsure = That’s fine, there’s no more you need to know.
    .look-alike = That’s fine. If you can’t try a tool, bring the wheel in and we’ll tell them apart.
    .person = That’s fine. We’ll have a look at it.
afterwards-yes = Good. Say “steps” and I’ll take you through it.
    .look-alike = Good. Tell me what the check shows.
    .person = Good. See you soon.
afterwards-no = No problem. Take your time, or let us do it.
afterwards-done = Is it off? Well done: “Putting it back” tells you how it goes on again. If not, say “steps”.
    .look-alike = Good. Tell me what the check shows.
    .person = Good. See you soon.
nothing-of-that = There’s nothing to say about that for this one.
still-stands = That changes nothing: it’s still { $tool }.
services-head = Or let us do it:
services-head-person = What we can do for you:
service-line = { $name } ({ $terms })
service-terms = { $price }, { $time }
takes-minutes = about { $minutes } minutes
takes-days = { $days ->
        [one] about one day
       *[other] about { $days } days
    }
case-code = Case { $code }.
left-open = Nothing is lost. Start again and we’ll carry on from here. Your case code is { $code }.
what-next-look-alike = Never force either tool.
what-next-person = Bring the wheel in. A photo straight from the front helps.
what-next-bike = Bring the whole bike in.
rest-stays = The rest stands.
person-stays = That’s on your case { $code } now. It still takes one of us to look at it.
person-again = A person will look at it, as I said. You can reach them here: { $contact }
person-asked = All right, a person will help you.
person-doubt = I can’t tell for sure, and I won’t guess: the wrong tool ruins the fitting. One of us should see it.
person-unlisted = That’s nothing on my list. One of us should see it before any tool goes on.
person-no-remover = Most likely it’s { $fastening }. That’s a job for the shop.
person-stuck = Leave it there. One of us takes it off.
    .slips = Leave it there: one more try and no tool will hold. One of us takes it off.
    .nothing-moves = Leave it there: more force only breaks something. One of us takes it off.
    .does-not-go-in = Leave it there, and don’t force it in. One of us should see what’s in the way.
    .broke = Stop there, and turn nothing any more. Keep every piece. One of us will put it right.
person-mistaken = I think you’ve found { $fastening }. No tool goes on there.
person-referral = One of us should see this one.
open-now = The shop is open now, until { $until }.
opens-today = The shop opens today at { $at }.
opens-next = The shop opens on { $day } at { $at }.
reach-phone = Call { $phone }.

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
label-rule = ruler: lay its edge across the middle, in mm
label-right = ✓ right: through the middle
label-wrong = ✗ wrong: off to one side
label-nine-one-narrow = 9 splines, one narrower
label-eight-deep = 8 deep splines
label-narrower = narrower
label-loosens = loosens this way
label-loosens-anticlockwise = An arrow over it points anticlockwise: that way it loosens.
label-loosens-clockwise = An arrow over it points clockwise: that way it loosens.
label-turn-anticlockwise = anticlockwise, seen from the sprocket side
label-turn-clockwise = clockwise, seen from the sprocket side: a left-hand thread
label-turn-view-anticlockwise = Seen from the sprocket side: { $fastening }. Two arrows round it point anticlockwise.
label-turn-view-clockwise = Seen from the sprocket side: { $fastening }. Two arrows round it point clockwise.
label-spin-test = hold the tyre, spin the sprockets backwards
label-spin-turns = the ring turns too
label-spin-stays = the ring stays put
label-view = Seen from the sprocket side: { $fastening }. The axle and its locknut are grey, in the middle. The labels round them say: { $what }.
label-view-sized = Seen from the sprocket side: { $fastening }. The axle and its locknut are grey, in the middle. The labels round them say: { $what }, { $size } across.
label-side-by-side = { $count ->
        [one] One fitting.
       *[other] { $count } fittings side by side, at the same scale.
    }

## On any messenger

in-the-picture = In the picture: { $words }
answered-so = ✓ { $answer }

## Telegram

telegram-not-yours = These buttons are for somebody else. Write to me, and I’ll ask you too.
telegram-menu-start = Start, or carry on where we were
telegram-menu-help = What I can do, and the words that always work
telegram-menu-back = Take back your last answer
telegram-menu-case = Your case code
telegram-menu-person = Talk to a person
telegram-menu-language = Choose a language
telegram-menu-privacy = What I keep about you
telegram-menu-export = A copy of what I keep about you
telegram-menu-forget = Delete everything I keep about you
telegram-menu-cancel = Stop here; nothing is lost
telegram-description =
    I’m the bot at { $shop }. { $purpose }
    Press Start, then tap an answer or use your own words.
telegram-short-description = The bot at { $shop }: which remover takes your rear sprockets off.

## Gauge sheet
## A sheet printed at true size, and the names of the coins on it. `{"\u00A0"}` keeps a number and its unit on one line.

gauge-title = Gauge sheet: { $topic }
gauge-page-outlines = Which outline fits?
gauge-page-rulers = A card, count rulers and coins
gauge-page-of = Page { $page } of { $pages }, { $paper }
gauge-paper-a4 = A4
gauge-paper-letter = US letter
gauge-bar = This bar must be { $size }{"\u00A0"}mm long. If it isn’t, don’t use this page.
gauge-steps =
    1. Print at 100{"\u00A0"}% (“actual size”), never “fit to page”.
    2. Check first: hold a ruler to the bar below, and lay a bank card on the card outline. Wrong size? Don’t use the sheet.
    3. Part in your hand: lay it on the outlines, and look straight down with one eye shut.
    4. Part on the wheel: cut along the round line and lay the paper flat over the axle, onto the fitting. Splines fit if you can see right to the bottom of the grooves and nothing outside. A notched ring fits if it just fills the hole.
    5. Tell the bot what it says under the outline that fits. If none fits well, say so.
gauge-outline-splines = { $count } splines, { $size }{"\u00A0"}mm
gauge-outline-notches = { $count } notches, { $size }{"\u00A0"}mm
gauge-outline-outer-notches = { $count } notches outside, { $size }{"\u00A0"}mm
gauge-range-splines = { $least } to { $most } splines: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-range-notches = { $least } to { $most } notches: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-range-outer-notches = { $least } to { $most } notches outside: between the lines, { $low }{"\u00A0"}to{"\u00A0"}{ $high }{"\u00A0"}mm
gauge-card = Did it print right? Check with a bank card
gauge-card-size = { NUMBER($width, minimumFractionDigits: 2) } × { NUMBER($height, minimumFractionDigits: 2) }{"\u00A0"}mm
gauge-card-use =
    Lay any bank card on this outline. All bank cards are the same size.
    Right: the card just covers the line all round.
    Wrong: paper shows inside the line, or the card sticks out past it on one side. Then print again at 100{"\u00A0"}%, or don’t use the sheet.
gauge-count = Count rulers
gauge-count-use = Cut along the round line. Lay the ring over the axle, with the wedge at one spline. If a tick meets every spline all the way round, that’s your number.
gauge-count-ring = { $count } ticks
gauge-coins = Coins
gauge-coins-use = A coin measures too. Hold one as close to the fitting as you can. Tell the bot which coin, and if the fitting is wider or narrower.
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
page-skip = Skip to the content
page-nav = Pages
page-nav-notes = Notes
page-notes = Procedure notes
page-languages = Languages
page-trail = You are here
page-checked = Last checked on { $day } by the { $who }.
page-never-checked = Nobody has checked this note yet.
page-overdue = This note should have been checked again by { $day }. Ask at the counter before you rely on it.
page-overdue-never = Nobody who knows the job has checked this note. Ask at the counter before you rely on it.
page-elsewhere = Read the up-to-date version of this note
page-glance = At a glance: { $name }
page-tool = Remover
page-tool-here = Ours: “{ $name }”, { $hangs }.
page-tool-not-here = None on the wall just now: ask at the counter.
page-also = You’ll also need
page-direction = Which way it turns
page-refitting = Putting it back
page-torque = { $torque } N·m, unless another figure is stamped on it
page-parts = On this page
page-printed = Printed on { $day }. The page on the web may be newer.
page-search-label = Search the notes
page-search = Search
page-found-title = { $words }: found in the notes
page-found = { $count ->
        [0] Nothing found for “{ $words }”
        [one] One match for “{ $words }”
       *[other] { $count } matches for “{ $words }”
    }
page-all-notes = All notes
page-branches = Our shops
    .next = Which one are you coming to?
page-hours = Opening hours
page-closed-on = Closed on { $day }: { $reason }
page-closed-from = Closed from { $first } to { $last }: { $reason }
page-notes-general = For any wheel
page-other-notes = In other languages
page-trouble-400 = I couldn’t read that
    .next = The page it came from has grown old, or something was left out. Go back, load the page again, and send it once more.
page-trouble-403 = That came from another site
    .next = Your browser says so, and then we take nothing. Open our page itself and send it from there.
page-trouble-404 = There’s no such page
    .next = The address may be mistyped, or the page may have moved.
page-trouble-405 = You can’t do that here
    .next = Go back and try it another way.
page-trouble-413 = That was too large
    .next = Send a smaller photo, or fewer words at once.
page-trouble-429 = Too many pages at once
    .next = Wait a moment, then try again.
page-trouble-500 = Something went wrong here
    .next = It wasn’t your fault. Try again, and if it keeps happening, tell us at the shop.
page-trouble-503 = The shop’s computer is busy
    .next = Nothing is wrong with what you sent. Wait a few seconds, go back, and send it again.
page-trouble-other = That didn’t work
    .next = Go back and try it another way.

## Case card
## `card-aloud` has the name of every letter and digit that a code may have, to be read aloud.

card-offer = Your card, for { $days } days: { $url }
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
card-qr = This card as a square code. Open it with a phone’s camera.
card-open = Not finished yet: there’s no answer so far.
card-asked = You asked for a person. Nothing is decided yet.
card-steps = Step by step
card-cautions = Read this first
card-check = How to tell them apart
card-tool = What to use
card-tool-person = Most likely
card-why = What we were told
card-nothing-told = Nobody has told us anything yet.
card-told-by = { $by }, { $at }
card-by-person = Told by the person who opened the case
card-by-staff = Seen at the counter
card-by-rider = Told by the rider
card-by-mentor = Passed on by the mentor
card-by-other = Told by somebody helping
card-odd = This doesn’t quite fit the rest. Check it once more.
card-ruled-out = What we’ve ruled out
card-ruled-out-since = Because { $clause }:
card-possible = Still possible
card-possible-too = Not ruled out either
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
card-answered = Answered on { $at }, from edition { $edition } of our questions and our list of parts.
card-begun = Started on { $at }, with edition { $edition } of our questions and our list of parts.
card-renewed = The list has changed since. This card shows what edition { $edition } makes of the same answers.
card-when = { $day }, { $time }
card-secret = Anybody who has the address of this page can see it. It stops working on { $day }.
card-end = Cancel this card
card-end-sure = Cancel this card?
card-end-what = Nobody will be able to open it any more, or any other card of this case. The case stays. The bot gives you a new card with the next answer.
card-end-yes = Yes, cancel it
card-end-no = No, keep it
card-ended = The card is cancelled
card-ended-what = Nobody can open it any more. A printed copy stays as it is.
card-gone = There’s no card here
card-gone-what = The address may be mistyped, or the card may be cancelled or out of date. Ask the bot, or say your case code at the counter.
card-shelf = Carry on in the chat

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
gauge-print-what = Paper is more exact, because it can lie right on the fitting. Print at 100{"\u00A0"}%, never “fit to page”.
gauge-pdf = Open the sheet ({ $paper })
gauge-paper = Paper
gauge-country = Coins from
gauge-country-none = no coins
gauge-change = Change
gauge-looks = What’s on it
gauge-looks-what = This is just to look at: on a screen these pages aren’t at true size.
gauge-screen = Compare on this screen
gauge-screen-what = No printer? A bank card tells this page how large your screen is. Then hold the wheel, or the part, against the outlines.
gauge-screen-go = Use this screen
gauge-script = True-size outlines on a screen need JavaScript, and it’s off here. Turn it on, or print the gauge sheet.
gauge-calibrate = 1. Lay a bank card on the screen
gauge-lay-upright = Any bank card will do: they’re all the same size. Hold it upright on the screen, its left edge on the left line. Move the slider until the right line meets the card’s right edge. Is the card wider than the screen? Turn the phone sideways.
gauge-lay-lengthwise = Any bank card will do: they’re all the same size. Hold it lengthwise on the screen, its left edge on the left line. Move the slider until the right line meets the card’s right edge.
gauge-side = Width of the card on this screen
gauge-value = { $px } pixels
gauge-smaller = A little narrower
gauge-larger = A little wider
gauge-fits = The card fits the outline
gauge-moved = The screen or the zoom has changed, so lay the card on once more.
gauge-zoomed = You’ve zoomed the page with two fingers, so nothing is at true size. Zoom back first.
gauge-compare = 2. Which outline fits?
gauge-compare-what =
    Hold the part flat on the screen, or hold the screen right in front of the fitting on the wheel.
    Look straight at it with one eye shut. The outline should just meet the edge of the fitting all round.
gauge-again = Lay the card on again
gauge-kind-splines = Splines
gauge-kind-notches = Notches
gauge-kind-outer-notches = Notches on the outside
gauge-this = This one fits
gauge-write = Or write to the bot:
gauge-none-fits = None fits well? Then tell the bot you don’t know. That’s a fine answer too.
gauge-say = { $what }, { $size } mm, on the screen gauge
gauge-say-about = { $what }, { $size } ± { $half } mm, on the screen gauge
gauge-say-range = { $what }, { $low } to { $high } mm, on the screen gauge
gauge-within = On a screen this is good to ±{"\u00A0"}{ NUMBER($half, maximumFractionDigits: 1) }{"\u00A0"}mm.
gauge-alike = Paper and screens can’t tell these apart: { $sizes }{"\u00A0"}mm, all with { $what }. Choose the one that fits best, and the bot asks on.
gauge-alike-size = { NUMBER($size, maximumFractionDigits: 1) }

## Chat page

chat-nav = Chat
chat-head = Ask the bot of { $shop }
chat-log = Conversation
chat-by-us = The bot:
chat-by-you = You:
chat-begin = Ask me one question at a time
chat-text = Your answer or question
chat-type = Type here
chat-one-more = One more
chat-one-less = One less
chat-counted = How many you counted
chat-that-many = That many
chat-send = Send
chat-frame-keep = Your browser lets this frame keep nothing, so our talk is lost here when you leave the page.
chat-frame-tab = Keep it: open it in a tab of its own
chat-thinking = The bot is thinking
chat-waiting = Your message has arrived. The answer is taking a little longer, and will appear here.
chat-offline = No connection just now. Nothing is lost: what you wrote goes out as soon as the connection is back.
chat-refused = This page has grown old, so that didn’t arrive. Load the page again, then send it once more.
chat-too-large = That’s too long for one message. Please send it in parts.
chat-fast = That was a lot in a short time. It goes out by itself in a moment.
chat-busy = The shop’s computer is busy. It goes out by itself in a moment.
chat-fault = Something went wrong at our end. I’ll try again by myself.
chat-elsewhere = Your browser says that this came from another site, so I can’t take it. Load the page again.
chat-photo = Send a photo
chat-send-photo = Send it
chat-photographed = A photo
chat-unfit = That’s no photo that I can open. Send it as JPEG, PNG or WebP, or send a screenshot of it.
chat-broken = A part of that photo is missing, so I can’t open it. Send it once more, or take a new one.
chat-empty = There’s nothing in that file. Choose the photo once more, or take a new one.
chat-heic = That’s a HEIC photo, and I can’t open those. Set your camera to “most compatible” (JPEG), or send a screenshot of the photo.
chat-wide = That picture has more pixels than I can open. Send a smaller one, or a screenshot of it.
chat-heavy = That photo has more than { $megabytes } megabytes. Send a smaller one, or a screenshot of it.
chat-menu = More
chat-menu-help = What can you do?
chat-menu-person = I want to talk to a person
chat-menu-privacy = What do you keep about me?
chat-menu-export = Give me a copy of my data
chat-menu-forget = Delete everything about me
chat-their-photo = The photo sent with this message
chat-menu-new = Start with another wheel

## Counter page
## Read by the people of the shop, on a phone.

counter-queue = Queue
counter-waiting = { $count ->
        [0] Nobody is waiting
        [one] One case in the queue
       *[other] { $count } cases in the queue
    }
counter-look-again = Look again
counter-nothing-seen = Nothing seen yet
counter-claim = Claim
counter-release = Give back
counter-reopen = Open again
counter-known = What we know
counter-card = Their card
counter-to-case = Back to { $code }
counter-asks = They ask
counter-asks-why = Something to go with it (“fully booked”)
counter-asks-yes = Yes
counter-asks-no = No
counter-words = What was said
counter-no-words = Nothing yet.
counter-customer = Customer
counter-say = Your answer goes to the customer with your name
counter-photo-too = A photo with it
counter-send = Send
counter-ready = Ready replies
counter-photos = { $count ->
        [0] No photos
        [one] One photo
       *[other] { $count } photos
    }
counter-photo = Photo { $number }
counter-close-head = Close it
counter-was = What was it really?
counter-unknown = Nobody knows
counter-fit = Did the remover fit?
counter-fit-yes = It fitted
counter-fit-no = It didn’t fit
counter-fit-untried = Not tried
counter-close = Close this case
counter-leave = Log out
counter-enter = Log in
counter-enter-as = { $name ->
        [none] This link lets you in at the counter of { $shop }.
       *[other] This link lets { $name } in at the counter of { $shop }.
    } It works once. On this device you stay logged in for a week, or until you log out.
counter-door-enter = The counter
counter-door-gone = That link doesn’t work
counter-door-gone-what = It may be used up or too old. Write “link me” to the bot for a new one, or ask the owner.
counter-door-out = You’re not logged in
counter-door-out-what = This page is for the people of the shop. Write “link me” to the bot, and it sends you a link. If you’re logged in already, look again.
counter-again = Look again

## Matrix

matrix-to = { $name }:
matrix-declined = I’m the bot at { $shop }, and I only join rooms of people I’ve been set up for. Please ask the shop.
matrix-declined-often = I’m the bot at { $shop }. That’s a lot of invitations at once: please try again in ten minutes.

## Staff
## Read by the people of the shop, on a phone, one thumb free and greasy. A word where a sentence would do for others.

staff-tell-nobody = I know nobody called “{ $name }” here. { $count ->
        [one] Your case is { $codes }
       *[other] Your cases are { $codes }
    }. Write “say”, the code and your words.
staff-not-here = That’s an invitation for staff. Staff don’t work through JSON lines, and the code still counts. Write it in a private chat with the bot, or in “triagebot talk --person NAME”.
staff-lend-whom = Who to? “lend { $name } to Ben until 17:00”. A case code works as well as a name.
staff-lend-when = “{ $said }” isn’t a time I know. Try “until 17:00”, “for 2h” or “until tomorrow”.
staff-lend-none = We have no “{ $name }” on the wall.
staff-lend-stays = “{ $name }” is for use in the shop only, so it stays here.
staff-lend-all-out = Every “{ $name }” is out: { $rows }.
staff-lend-deposit = Deposit: { $money }.
staff-lend-fewer = { $count ->
        [one] Only one of “{ $name }” hangs there.
       *[other] Only { $count } of “{ $name }” hang there.
    }
staff-lent = { $count ->
        [one] “{ $name }” is
       *[other] { $count } of “{ $name }” are
    } out with { $to }{ $due ->
        [yes] , until { $until }.
       *[no] .
    }
staff-not-lent = “{ $name }” isn’t out.
staff-not-lent-to = They don’t have that one. “{ $name }” is out: { $rows }.
staff-back-whose = Who had it? { $names }. “returned { $name } from …”
staff-back-nothing = { $to ->
        [none] Nothing is lent out.
       *[other] { $to } has nothing of ours.
    }
staff-back-all-whose = From whom? { $names }. “returned everything from …”
staff-back-all = { $count ->
        [one] { $to } is back with it:
       *[other] { $to } is back with { $count } tools:
    }
staff-back-row = – “{ $name }”: { $hangs }
staff-gone = { $why ->
        [sold] Sold: “{ $name }”{ $price ->
            [none] {""}
           *[other] , { $price }
        }.
        [broken] Broken: “{ $name }”.
       *[lost] Lost: “{ $name }”.
    } { $left ->
        [0] That was the last one.
        [one] One is left.
       *[other] { $left } are left.
    }
staff-gone-none = There’s no “{ $name }” on the wall just now.
staff-not-for-sale = “{ $name }” isn’t for sale. If it’s gone: “lost { $name }”.
staff-not-gone = “{ $name }” isn’t lost or broken.
staff-found-again = Good. “{ $name }” goes here: { $hangs }.
staff-gone-row = { $why }, since { $since } ({ $by })
staff-back = { $count ->
        [one] “{ $name }” is
       *[other] { $count } of “{ $name }” are
    } back from { $to }. It goes here: { $hangs }.
staff-out-none = Everything’s in its place.
staff-out-head = { $count ->
        [one] One tool is out:
       *[other] { $count } tools are out:
    }
staff-out-row = – “{ $name }”: { $who }
staff-gone-line = Gone: { $rows }.
staff-lent-line = Lent out: { $rows }.
staff-lent-to = { $to }, since { $since }{ $state ->
        [late] , due { $due }, late
        [due] , due { $due }
       *[open] {""}
    }
staff-lent-forgotten = somebody who asked to be forgotten
staff-deed-lent = lent out a tool for it
staff-offer-until = { $line } until { $until }
staff-offer-keep = keep { $tool } for { $to }, { $at }
staff-so-many = { $count } of “{ $name }”
staff-on-now-only = I only know who’s on now. { $on }
staff-to-do-head = { $waiting ->
        [0] Nobody is waiting.
        [one] One person is waiting: “queue”.
       *[other] { $waiting } people are waiting: “queue”.
    }{ $asked ->
        [0] {""}
        [one] {" "}One wants a yes or a no.
       *[other] {" "}{ $asked } want a yes or a no.
    }
staff-to-do-bike = – Bike for today: { $what }
staff-services-none = The shop’s folder lists no services.
staff-services-not-this = Our price list has nothing for “{ $job }”. It has { $count ->
        [one] one job
       *[other] { $count } jobs
    } on rear sprockets: “prices” shows { $count ->
        [one] it
       *[other] them
    }.
staff-deed-noted = wrote down: { $text }
staff-keep-whom = Who for? “keep { $name } for Ana until tomorrow”.
staff-kept = { $count ->
        [one] “{ $name }” stays
       *[other] { $count } of “{ $name }” stay
    } here for { $to }{ $when ->
        [none] {""}
       *[other] , { $when }
    }. Free again after { $until }.
staff-kept-out = kept for { $to }, until { $until }
staff-kept-for = { $to }, until { $until }
staff-kept-line = Kept for { $rows }.
staff-kept-over = “{ $name }” isn’t kept for { $to } any more.
staff-kept-not = “{ $name }” isn’t kept for anybody.
staff-kept-whose = Kept for { $names }. Which one? “unkeep { $name } for …”
staff-note-what = What should it say? “note { $code } pays cash”.
staff-note-kept = Noted on { $code }, for us alone: { $text }
staff-noted = Note { $at } { $name }: { $text }

staff-welcome =
    Hello { $name }. You’re { $called } at { $shop } now.
    { staff-how }
staff-how =
    Write what you see: “12 spl 23.4 stays”, “4n 40”.
    Ask: “where is { $tool }”, “torque 12 cass”, “which way 4n 40”.
    Who waits: “queue”, “claim”, “case CODE”. To a customer: reply, or “say CODE come in at five”.
    Lending: “lend { $tool } to Ben until fri”, “returned { $tool }”, “out”.
    “close CODE 4n 40 fitted” when it’s done. Or just write what you mean: I ask if I’m not sure. “more” has the rest.
staff-more =
    Tools: “tools for 4n 24-25”, “which does { $other } fit”. “keep { $other } for Ana until fri”.
    Gone: “lost { $other }”, “broken …”, “sold …”, “found …”. “returned everything from Ben”. “undo”.
    Cases: “mine”, “claim 2”, “release CODE”, “snooze CODE 2h”, “note CODE pays cash”, “reopen CODE”, “photos CODE”, “history CODE”, “touched”.
    “canned” lists ready replies, “say CODE NAME” sends one.
    Visits: “yes CODE”, “no CODE fully booked”. A call-out: “kit five-speed, stays still”.
    Bikes left here: “new blue tourer, Sam, Thursday”, then what you see, “away”. “bikes”, “bike Sam”, “find Sam”, “label CODE”.
    “off duty” when you go, “on duty” when you’re back. “link me” opens the counter page.
    “try” shows you what customers see, “done” ends it. { $role ->
        [owner] “today” sums up the day.
       *[staff] “today” shows what’s due.
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
staff-not-understood = { $code ->
        [none] I didn’t get that. Write what you see (“4n 40”), or “help”.
       *[other] I didn’t get that. For { $code }, reply to its message, or “say { $code } …”. “help” has the rest.
    }
staff-link = The counter page, for you alone, once, within { $minutes } minutes: { $url }
staff-link-none = The counter page has no address yet. The owner sets TRIAGEBOT_WEB_ADDRESS to where people reach the pages.
staff-corrected = I can’t use an edit or a forward here. Please write it again.
staff-words-only = Words only, please. To send a picture as a customer would, say “try” first.
staff-cleared = Cleared. Next wheel?{ $waiting ->
        [0] { "" }
       *[other] { " " }“claim next” takes the next case.
    }
staff-old-button = That button belongs to an earlier line. Write the line again.
staff-trying = You’re seeing what a customer sees. Say “done” to end it.
staff-tried = Done. Back to staff view.

staff-heard = You see: { $clauses }.
staff-so-far = Could be: { $names }.
staff-most-likely = Most likely: { $fastening }. { $why }
staff-missing = Missing: { $name }.
staff-missing-mm = Missing: { $name }, in mm.
staff-puzzle = “{ $said }”: do you mean { $proposed }? Then write that.
staff-unread = I left out “{ $said }”.
staff-fits = { $sure ->
        [sure] Sure: { $fastening }.
        [fairly-sure] Fairly sure: { $fastening }.
       *[likely] Most likely: { $fastening }.
    }
staff-fits-row = { $share } %: { $fastening }.
staff-stop = Stop: { $clause }. No tool until somebody who knows it has had a look.
staff-between = ;{" "}
staff-odd = Look again, this doesn’t fit the rest: { $clauses }.
staff-two = Two kinds fit. Check before you pull.
staff-two-row = { $fastening }, { $share } %. { $tool }
staff-no-tool = I can’t name a tool from this.
staff-not-listed = Not on my list: no kind I know looks like that. Count once more, and don’t force a tool.
staff-no-remover = { $fastening }. { $why }
staff-if-not = If it is the fitting: { $fastening }. { $why }
staff-no-remover-known = I know no remover for it.
staff-tool = “{ $name }”, { $hangs }. We have { $count }.
staff-tool-none = { $tool }: none on the wall.
staff-tool-line = Tool: { $tool }
staff-torque = Back on: { $torque } N·m, or what’s stamped on it.
staff-back-on = Back on: { $text }
staff-note = Note:
staff-note-here = Note: { $title }

staff-needed = Yes, it’s for that.
staff-needed-not = No, not for that.
staff-it-fits = By its size, yes: { $size } mm is right. All the way in by hand, or it’s another one.
staff-it-fits-not = No, not at { $size } mm.
staff-serves = “{ $name }” ({ $tool }) is for:
staff-serves-none = “{ $name }” ({ $tool }) doesn’t take anything off by itself.
staff-kind-row = – { $fastening }
staff-hangs = { $hangs }. We have { $count }.
staff-hangs-nowhere = None on the wall.
staff-where = “{ $name }”: { $hangs }. We have { $count }.
staff-price = Price: { $money }.
staff-price-none = It isn’t for sale, and it takes no deposit.
staff-where-none = “{ $name }”: none on the wall just now.
staff-branch-in = At { $shop }: “{ $name }”, { $hangs }. { $count ->
        [one] One is in.
       *[other] { $count } are in.
    }
staff-branch-out = At { $shop }: “{ $name }”. { $count ->
        [one] It’s out just now.
       *[other] All { $count } are out just now.
    }
staff-branch-silent = At { $shop }: “{ $name }”. I can’t see just now whether it’s in.
staff-cautions-more = { $count ->
        [0] {""}
        [one] One more caution: “cautions”.
       *[other] { $count } more cautions: “cautions”.
    }
staff-cautions-none = Tell me of the wheel first (“4n 40”), then “cautions” lists them all.
staff-which-it = Which tool? Please name it.
staff-told-before = You said before: { $clauses }. Another wheel? “next”, then write it again.
staff-declined = OK, I’ve done nothing.
staff-talk-thanks = Any time.
staff-talk-greets = Hello, { $name }. { $waiting ->
        [0] Nobody is waiting.
        [one] One person is waiting: “queue”.
       *[other] { $waiting } people are waiting: “queue”.
    }
staff-talk-leaves = Bye, { $name }. “off duty” if nobody should write to you.
staff-talk-refused = OK, nothing’s changed.
staff-talk-fine = Good.
staff-owner-report = That’s for an owner, where the bot runs: “triagebot report”. Here, “today” sums up the day.
staff-owner-invite = That’s for an owner, where the bot runs: “triagebot staff invite --name { $name }”. It prints a code to pass on.
staff-owner-list = That’s for an owner, where the bot runs: “triagebot staff list”. Here, “who is on” shows who’s on duty.
staff-owner-remove = That’s for an owner, where the bot runs: “triagebot staff remove { $name }”.
staff-owner-owner = That’s for an owner, where the bot runs: “triagebot staff invite --name { $name } --role owner”. It prints a code to pass on.
staff-owner-backup = That’s for an owner, where the bot runs: “triagebot backup”.
staff-owner-check = The shop’s files say that. An owner changes them where the bot runs, then writes “triagebot check”.
staff-owner-deposits = { $count ->
        [0] No deposits are out.
        [one] { $money } in deposits, for one tool. “out” shows it.
       *[other] { $money } in deposits, for { $count } tools. “out” lists what’s lent.
    }
staff-kept-head = { $count ->
        [0] No tool is kept for anybody.
        [one] One tool is kept:
       *[other] { $count } tools are kept:
    }
staff-kept-for-row = – “{ $name }” for { $to }, until { $until }
staff-asked-elsewhere = I only know what holds rear sprockets. I’ve nothing on “{ $part }”.
staff-asked-one = { $names }: { $words }
staff-asked-row = – { $names }: { $words }
staff-asked-none = nothing about that in the catalogue.
staff-asked-tight = For which one? “torque 12 cass”, “how tight 4n 40”.
staff-asked-thread = For which one? “which way 12 cass”. Left-hand at the rear sprockets: { $left }. The others there turn the usual way.
staff-asked-unknown = That’s a question I have no answer to, and the notes don’t either. “help” shows what I can do.
staff-which-tool = Which one? { $names }.
staff-meant-yes = Yes
staff-duty-their-own = { $name } writes that themselves: “{ $command }”.
staff-which-tool-of = Which one is “{ $said }”?
staff-meant = { $count ->
        [one] Do you mean “{ $line }”? “yes” does it.
       *[other] Which do you mean? A number does it.
    }
staff-tools-file = How many we have of a tool, and where it hangs, is in tools.yaml in the shop’s folder. The owner changes that.
staff-peg-none = Nothing hangs on peg { $peg }.
staff-late-none = Nothing is late.
staff-due-row = – “{ $name }”: { $to }, due { $due }
staff-late-row = – “{ $name }”: { $to }, was due { $due }
staff-undo-nothing = There’s nothing of tools to undo: you changed no loan in the last ten minutes.
staff-undone = Taken back, not lent: { $names }.
staff-undone-back = Taken back, still out: { $names }.
staff-extend-whose = Who keeps “{ $name }”? { $names }. “extend it to …”
staff-hand-whom = { $name ->
        [none] To whom? { $names }.
       *[other] Nobody here is called “{ $name }”. We have { $names }.
    }
staff-handed = { $code } is with { $name } now.
staff-deed-handed = gave it to { $to }
staff-off-duty-from = You’re off from { $at }. “on duty” takes that back.
staff-off-duty-between = You’re off from { $begins } until { $ends }. “on duty” takes that back.
staff-off-duty-until = You’re off until { $at }.
staff-who-is-on = On duty: { $on ->
        [none] nobody
       *[other] { $on }
    }.{ $off ->
        [none] {""}
       *[other] {" "}Off: { $off }.
    }
staff-no-such-tool = We have no tool called “{ $name }”.
staff-tools-row = { $tool } For: { $fastenings }.

staff-no-case = There’s no case { $code }.
staff-no-number = There’s no { $number } in the queue. { $count ->
        [0] Nobody is waiting.
        [one] One case is there: “queue” shows it.
       *[other] { $count } cases are there: “queue” shows them.
    }
staff-which-case = Which case? Put its code after it: “{ $command } K7M-4QX”.
staff-card-over = That card doesn’t work any more. Ask for the case code.
staff-case = { $code }, opened { $opened }. { $found }
staff-found = { $status ->
        [answer] It’s a { $names }.
        [look-alike] It’s one of two: { $names }.
        [person] For a person: { $reason }.
        [older] It had an answer; today’s edition would ask more.
       *[question] Not finished yet.
    }
staff-case-told = { $by }: { $clauses }.
staff-case-odd = Doesn’t fit the rest: { $clauses }.
staff-case-out = Ruled out because { $clause }: { $names }.
staff-case-out-more = { $names } and { $count } more
staff-case-likely = Likeliest: { $names }.
staff-case-share = { $share } % { $fastening }
staff-case-check = Check: { $check }
staff-case-words = { $at } { $name ->
        [none] they
       *[other] { $name }
    }: “{ $text }”
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
staff-photos-elsewhere = { $code } has photos, but I can’t show them here. Ask on the messenger.
staff-case-fetch = Fetch: { $tools }.
staff-case-edition = Answered { $at } with edition { $edition }.
staff-case-edition-old = Answered { $at } with edition { $edition }; today it is { $now }.
staff-case-was = They were told something else: { $names }. Today’s edition wouldn’t say that.
staff-touched-head = { $count ->
        [0] Today, each open case keeps its answer.
        [one] Today, one open case would get a new answer:
       *[other] Today, { $count } open cases would get a new answer:
    }
staff-touched-row = – { $code }, { $at }: they were told { $before }; now it’s { $after }.
staff-touched-nothing = no tool
staff-case-closed = Closed by { $name }: { $what }
staff-case-state = { $state ->
        [waiting] Waiting for a person.
        [claimed] { $name } has it.
        [snoozed] { $name } has it, snoozed until { $until }.
       *[closed] Nobody is needed any more.
    }
staff-fetch-row = “{ $name }”, { $hangs }

# Bikes that stand in the shop without their owners.
staff-bike-how = What is it, whose, and for when? “new blue tourer, Sam, Thursday”. A phone number can stand behind it.
staff-bike-or-line = Another bike? “new blue tourer, Sam”. Just another wheel? “away” first, then what you see.
staff-bike-called = { $what }{ $whose ->
        [none] {""}
       *[other] , { $whose }
    }
staff-bike-full = { $called }{ $wanted ->
        [none] {""}
       *[other] , for { $wanted }
    }{ $contact ->
        [none] {""}
       *[other] , { $contact }
    }{ $note ->
        [none] {""}
       *[other] . { $note }
    }
staff-bike-new =
    { $code }: { $bike }.
    It’s on your stand: what you write and photograph now goes with it, until “away”. “label { $code }” for a label.
staff-bike-up = { $code } is on your stand: { $bike }.
staff-bike-none = There’s no bike on your stand. “bikes” lists those that are here.
staff-bike-away = Off your stand: { $what }. “bike { $code }” brings it back.
staff-bike-line = { $called } ({ $code }):
staff-bike-photo = Got it. The photo is kept with { $what }.
staff-bikes-head = { $count ->
        [0] No bikes here without their owners.
        [one] One bike:
       *[other] { $count } bikes:
    }
staff-bikes-row = – { $code } { $called }{ $wanted ->
        [none] {""}
       *[other] , for { $wanted }
    }{ $known ->
        [none] {""}
       *[other] . { $known }
    }
staff-bikes-done = Closed.
staff-bikes-not-named = No bike here is called that. “bikes” lists them all.
staff-bike-stands = { $code }: { $bike }.{ $done ->
        [none] {" "}Not closed yet.
       *[other] {" "}Closed { $done }.
    }
staff-bike-tell = Your bike is ready ({ $what }).
staff-find-none = I find no “{ $said }”. A code, a name or a bike will do.
staff-find-several = { $count } are called that:
staff-no-bike = { $code } has no bike. “new blue tourer, Sam, { $code }” gives it one.
staff-label = The label for { $code }, to print: { $url }
staff-label-command = To print a label, on the computer: triagebot staff label { $code }
label-wanted = for { $day }
staff-forget-sure = That deletes { $called } and all of { $code }, for good. Write it once more if you mean it.
staff-forgot = { $code } is deleted.
staff-forgot-owner = I no longer know whose { $code } is. The case itself belongs to the person who wrote it.
staff-deed-took-in = took in the bike
staff-deed-seen = saw: { $text }

# What to take along to a wheel.
staff-kit-for = { $clauses ->
        [none] { $unread ->
            [yes] I can’t read that, so for any wheel:
           *[no] For any wheel:
        }
       *[other] For a wheel where { $clauses }:
    }
staff-kit-head = { $count ->
        [one] This
       *[other] These { $count }
    } will do for { $percent } in 100.
staff-kit-more = { $count ->
        [one] With this as well
       *[other] With these { $count } as well
    } it’s { $percent } in 100.
staff-kit-row = – “{ $name }”, { $hangs }: { $percent } in 100
staff-kit-rarely = – For fewer than 1 in 100: { $names }
staff-kit-beside = – With them: { $names }
staff-kit-none = Nothing on the wall takes such a wheel apart. Have it brought in.
staff-kit-away = Not here just now, so not covered: { $names }.
staff-kit-no-tool = { $percent } in 100 no tool takes off, so they need a look here{ $names ->
        [none] .
       *[other] : { $names }.
    }
staff-kit-rare = { $percent } in 100 are too rare to carry their tools.

# Visits and tools that customers ask for.
staff-request = { $code } asks: { $what }. “yes { $code }”, or “no { $code } fully booked”.
staff-request-cancelled = { $code } isn’t coming: { $what }.
staff-request-visit = come { $visit }{ $what ->
        [none] {""}
       *[other] . { $what }
    }
staff-request-hold = keep “{ $name }” until { $until }
staff-request-yes = { $code }, agreed: { $what }.{ $reached ->
        [yes] {""}
       *[no] {" "}They’ll read it when they’re next here.
    }
staff-request-more = They also ask: { $what }. “yes { $code }”, or “no { $code } …”.
staff-request-no = { $code }, refused: { $what }.{ $reached ->
        [yes] {""}
       *[no] {" "}They’ll read it when they’re next here.
    }
staff-request-answered = { $code } has had an answer already: { $state ->
        [yes] yes
       *[no] no
    }.
staff-request-none = { $code } hasn’t asked for anything.
staff-reason-visit = wants to come
staff-reason-hold = wants a tool kept
staff-lend-kept = What’s left of “{ $name }” is kept: { $rows }. Lend it to that code, or “no CODE” first.
staff-kept-row = { $code }, until { $until }
staff-deed-accepted = said yes to what they asked for
staff-deed-refused = said no to what they asked for

staff-queue-empty = Nobody is waiting.
staff-mine-none = You have no case.{ $waiting ->
        [0] {""}
       *[other] {" "}“claim next” takes one.
    }
staff-requests-none = Nobody waits for a yes or a no.
staff-queue-head = { $count ->
        [one] One case.
       *[other] { $count } cases.
    }
staff-queue-row = { $number } { $code }, { $since }{ $kind ->
        [none] {""}
       *[other] , { $kind }
    }, { $reason }. { $state }{ $said ->
        [none] {""}
       *[other] {" "}“{ $said }”
    }
staff-queue-more = And { $count } more.
staff-queue-waiting = Nobody has it.
staff-queue-claimed = { $name } has it.
staff-queue-mine = You have it.
staff-queue-snoozed = { $name } has it, snoozed until { $until }.
staff-reason-asked = they asked
staff-reason-doubt = in doubt
staff-reason-unlisted = fits nothing listed
staff-reason-no-remover = nobody sells a remover
staff-reason-stuck = stuck at a step
staff-stuck-at = “{ $said }” at step { $number } of { $count }{ $times ->
        [one] {""}
       *[other] , { $times } times
    }
staff-reason-referral = needs a person
staff-reason-staff = taken by staff

staff-claimed = { $code } is yours.{ $said ->
        [none] {""}
       *[other] {" "}They wrote: “{ $said }”
    }
staff-claimed-already = You already have { $code }.
staff-claimed-other = { $name } has { $code }.
staff-released = { $code } is back in the queue.
staff-not-held = Nobody has { $code }.
staff-not-yours = { $name } has { $code }, so it’s theirs to do. Ask them.
staff-snoozed = { $code } is snoozed until { $until ->
        [none] they write.
       *[other] { $until }, or until they write.
    }
staff-when = Until when? “snooze { $code } 2h”, “snooze { $code } until 15:00”.
staff-awake = { $code } is back: its snooze is over.
staff-awake-wrote = { $code } is back: they’ve written.
staff-close-how = What was it, and did it fit? “close { $code } 4n 24 fitted”, “close { $code } did not fit”.
staff-close-which = Which one was it? A number closes it so; “{ $said }” could be each of these.
staff-close-unknown = I can’t tell what “{ $said }” is. Try something like “4n 24”, or “not listed”.
staff-closed = { $code } is closed: { $what }{ $before ->
        [none] {""}
       *[other] {" "}Before, it said: { $before }
    }
staff-close-sure = { $code } says otherwise: { $known }. If it really was { $said }, close it like that once more.
staff-reopened = { $code } is open again, and yours.
staff-not-closed = { $code } isn’t closed.
staff-was = { $fastening }.
staff-was-unknown = nobody knows what it was.
staff-fitted-yes = The remover fitted.
staff-fitted-no = The remover didn’t fit.
staff-fitted-untried = Nobody tried a remover.
staff-canned-none = There are no canned replies. They are in replies.yaml in the shop folder.
staff-canned-head = “say CODE NAME” sends one:
staff-canned-row = – { $id }: { $title }
staff-canned-unknown = There’s no reply called “{ $name }”. You can say: { $names }.
staff-say-what = What shall I tell them? “say { $code } come in at five”. “canned” lists the ready replies.
staff-said-own = Sent to { $code }.{ $holder ->
        [none] {" "}What they write comes to you.
       *[other] {" "}{ $holder } has the case, so what they write goes there.
    }
staff-said-waits = Kept for { $code }: they’ll read it when they’re next here.{ $holder ->
        [none] {""}
       *[other] {" "}{ $holder } has the case.
    }
staff-new = { $code } needs a person: { $reason }.{ $text ->
        [none] {""}
       *[other] {" "}“{ $text }”
    } Reply to this to answer, or “claim { $code }”.
staff-went-on = { $code }: they’ve gone back to the bot.
staff-new-here = { $code } needs a person: { $reason }.{ $text ->
        [none] {" "}“claim { $code }” takes it.
       *[other] {" "}They wrote: “{ $text }”
    }
staff-words-here = { $code }, they wrote: “{ $text }”
staff-words = { $code }, { $who ->
        [mentor] their mentor
       *[person] the customer
    }: “{ $text }” Reply to this, or “say { $code } …”.
staff-photo-came = { $code }: { $count ->
        [one] a photo
       *[other] { $count } photos
    } from the customer.
staff-off-duty = You’re off. I’ll leave you be, except about cases that are yours. “on duty” when you’re back.
staff-on-duty = You’re on.{ $waiting ->
        [0] {" "}Nobody is waiting.
        [one] {" "}One person is waiting: “queue”.
       *[other] {" "}{ $waiting } people are waiting: “queue”.
    }
staff-said = Sent to { $code }: “{ $text }”
staff-unreachable = I can’t reach { $code } on any channel.
staff-from-person =
    From { $name } at { $shop } (a person):
    { $text }
staff-history-none = Nobody has done anything with { $code } yet.
staff-history-head = { $code }:
staff-history-row = { $at } { $name } { $what }
staff-deed-claimed = took it
staff-deed-reopened = opened it again
staff-deed-released = gave it back
staff-deed-snoozed = snoozed it until { $until }
staff-deed-closed = closed it: { $what }
staff-deed-said = sent “{ $id }”
staff-deed-left = left; it’s waiting again
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
digest-closed = Closed today: { $count }. The tool fitted: { $fitted }. It didn’t fit: { $misfits }.
digest-nobody-waits = Nobody is waiting for a person.
digest-waiting = { $count ->
        [one] One is waiting for a person, since { $since }.
       *[other] { $count } are waiting for a person, the first since { $since }.
    }
digest-held = { $count ->
        [one] Somebody has one case in hand.
       *[other] Staff have { $count } cases in hand.
    }
digest-asleep = { $count ->
        [one] One case is snoozed.
       *[other] { $count } cases are snoozed.
    }
digest-overdue = { $count ->
        [one] One note needs checking again:
       *[other] { $count } notes need checking again:
    }
digest-overdue-row = – { $title }
digest-overdue-more = – and { $count } more
digest-lent =
    { $count ->
        [one] One tool is lent out
       *[other] { $count } tools are lent out
    }{ $late ->
        [0] .
        [one] , and one should be back by now: “out”.
       *[other] , and { $late } should be back by now: “out”.
    }

## Helping a rider elsewhere
## The rider reads what begins with `mentor-forward`, `mentor-consent` or `mentor-from`; the mentor reads the rest.

mentor-name-it = Good of you to help. What shall we call this one? The bike will do: “the blue commuter”. Say “no” if you didn’t mean that.
mentor-not-meant = All right, I haven’t opened anything.
mentor-opened =
    “{ $name }” is open. I’ll write each question so that you can send it on as it is. Then tell me what they say.
    They can also answer me directly: say “invite”.
mentor-watch = For you: { $watch }
mentor-watch-help = Send them this, and tell me what comes of it.
mentor-hint =
    For you, in case they’re not sure how:
    { $hint }
mentor-send-on = Send this on as it is
mentor-what-back = “{ $name }”: what do they say?
mentor-forward-unsure = “I don’t know” is a fine answer.
mentor-asked-next = Next question: { $question }
mentor-copy = “{ $name }”, the rider wrote: “{ $said }”
mentor-summary-offer = Say “summary” for a text to send on.
mentor-from-mentor = From your mentor.
mentor-from-mentor-finished = Your mentor has finished here, and sees nothing more of it. You and I can carry on.
mentor-from-mentor-left = Your mentor has left. You and I will carry on.
mentor-said-rider = From the rider: { $clauses }.
mentor-said-mentor = From the mentor: { $clauses }.
mentor-forward-said-rider = You said: { $clauses }.
mentor-forward-said-mentor = Your mentor said: { $clauses }.
mentor-rider-has-it = They’ve got all of it. Say “summary” for a text to send on.

mentor-invited = Send this on to the rider of “{ $name }”. I’ll ask them first whether they want to. Until they say yes, you and I carry on.
mentor-forward-invite =
    You can answer the questions about your wheel yourself. I’m the bot at { $shop }.
    { $link ->
        [none] Send me this: { $code }
       *[other] Open { $link }, or send me this: { $code }
    }
    It works once, until { $until }.
mentor-join-page = Somebody has invited you to answer questions about your wheel here. Press the button, and I’ll tell you first who sees what.
mentor-join-button = Join in
mentor-code-own = That code is for the rider. Send it on to them.
mentor-code-over = That code doesn’t work any more. Ask the person who sent it for a new one.
mentor-code-joined = You’ve already joined.
mentor-consent =
    I’m the bot at { $shop }. Your mentor, the person who’s helping you, would like me to ask you about your wheel directly.
    If you say yes, they’ll see what you answer, and can correct it. The people at { $shop } can read it when they help. I don’t tell anybody your name.
    Say “leave” when you’ve had enough. Say “forget me”, and I’ll delete all of it.
    Is that all right?
mentor-consent-again = Before we go on, I need a yes or a no from you. May I ask you directly? Your mentor will then see what you answer.
mentor-consent-yes = Yes, ask me
mentor-consent-no = No, thank you
mentor-consent-given = Thank you. Here we go.
mentor-consent-refused = All right. I won’t pass anything on to your mentor. Write to me whenever you like.
mentor-consent-left = All right, you’ve left, and your mentor knows. They keep what you’ve answered so far.
mentor-joined = The rider of “{ $name }” now answers me directly. You’ll see each answer here. You can still answer for them, or correct something.
mentor-refused = The rider of “{ $name }” would rather answer you, so we’ll carry on as before.
mentor-left = The rider of “{ $name }” has left, so the questions come to you again.
mentor-forgot = The rider of “{ $name }” had me delete it all, so that case is gone. Say “I’m helping somebody” to start again.

mentor-help =
    While you’re helping somebody, these work too:
    “cases” lists the people you’re helping. Say the name of one to carry on with it.
    “invite” lets the rider answer me. “summary” gives you a text to send on.
    “rename it to the red racer” changes the name. “finish” puts a case away. With a name, these work for any of them: “summary blue”.
mentor-consent-help = Your mentor is helping you here, and sees what you answer. Say “summary” for all we know, “leave” to end that.

mentor-cases-head = You’re helping with:
mentor-cases-row = – “{ $name }” ({ $code }): { $stands }
mentor-cases-foot = Say a name to carry on with it.
mentor-cases-none = You’ve nobody to help just now. Say “I’m helping somebody” to start.
mentor-stands-asked = I’m asking about { $question }
mentor-stands-answer = has its answer
mentor-stands-look-alike = two kinds still fit
mentor-stands-person = a person should look
mentor-stands-stopped = stopped
mentor-stands-begun = just started
mentor-nameless = no name yet
mentor-wheel = For “{ $name }”:
mentor-for = Is that for “{ $name }”?
mentor-for-there = Yes, { $name }: { $said }
mentor-for-here = No, { $name }
mentor-instead-of = { $who ->
        [rider] (Earlier the rider said: { $clauses }.)
        [mentor] (Earlier your mentor said: { $clauses }.)
       *[you] (Earlier you said: { $clauses }.)
    }
mentor-switched = Now for “{ $name }”.
mentor-which = Which one? { $names }.
mentor-renamed = It’s called “{ $name }” now.
mentor-rename-how = What do you want to call it? For example: “rename it to the red racer”.
mentor-finished = I’ve put “{ $name }” away. Its code is { $code }, in case you need it again. Here’s what to send on.
mentor-summary = “{ $name }”, to send on:

mentor-summary-open = We don’t know yet what holds the sprockets on.
mentor-known = What we know: { $clauses }.
mentor-found-person = A person should look at this wheel before any tool goes on.
    .stuck = Leave it there: trying on only breaks something. A person should take it off.
mentor-remover = Remover: { $tool }. { $direction }
mentor-remover-if = If it is { $fastening }: { $tool }. { $direction }
mentor-code = At { $shop }, say this code: { $code }.
mentor-privacy = In this case, the mentor and the rider both see the answers.

## While a member of staff has a conversation, and what the bot tells the staff's room
## The staff read `handover-room…`, `handover-topic` and everything from `handover-edited` on; each begins with the case's code.

handover-back = Back to the bot
handover-stands = A person at the shop has your case. I’m the bot, and I’m keeping quiet: what you write here goes to them. Say “back to the bot” to carry on with me.
handover-bot-here = I’m the bot, and I’m already here.
handover-returned = It’s the bot again.
handover-returned-by = It’s the bot again: { $name } has handed your case back to me.
handover-handed = I’ve passed your case on. A person at { $shop } will answer you here, and each of their messages says who’s writing. I’m the bot, and I’ll keep quiet now: what you write goes to them, photos too. To carry on with me, say “back to the bot”.
handover-handed-shut = Nobody is at { $shop } just now. I’ve passed your case on, and a person will answer you here once the shop is open. I’ll keep what you write for them, photos too. You needn’t wait: say “back to the bot”, and you and I can carry on.
handover-passed-on = I’ve passed that on to { $shop }. They’ll answer you here.
handover-case-closed = It’s the bot again: { $name } at { $shop } has closed your case. If there’s anything left, say “person”.
handover-taken = (I’m the bot. A person has your case now, so I’ll keep quiet: what you write here goes to them. Say “back to the bot” to carry on with me.)
handover-cannot-pass = I’m the bot, and I can only pass on words and photos. Please put it in words.
handover-from-photo = From { $name } at { $shop } (a person): { $count ->
        [one] a photo
       *[other] { $count } photos
    }.

handover-topic = { $code }
handover-room-how =
    To answer, reply to this message or to a later one of mine about this case. Only staff’s replies like that go out; anything else stays between you.
    “Back to the bot”, as a reply, gives the case back to me.
handover-room-how-matrix =
    To answer, just write in this thread: what staff write here goes to the customer. What names a colleague, or replies to one, stays between you.
    “Back to the bot” gives the case back to me.
handover-room-said =
    { $code }, { $who ->
        [mentor] their mentor
       *[person] the customer
    } { $corrects ->
        [yes] corrects themselves
       *[no] writes
    }:
    { $text }
handover-room-thing = { $code }: { $who ->
        [mentor] their mentor
       *[person] the customer
    } sent something I can’t pass on. I’ve asked for words or a photo.
handover-room-photo = { $code }: { $count ->
        [one] a photo
       *[other] { $count } photos
    } from the customer.
handover-room-photo-lost = { $code }: the customer sent a photo, but I couldn’t get it. Ask for another one.
handover-room-answered = { $code }, { $name } answered: { $text }
handover-room-closed = { $code }: { $name } has closed it.
handover-room-hint = { $code }: that stayed here. To send something to the customer, reply to one of my messages.
handover-room-hint-matrix = { $code }: that stayed here, because it names somebody. To send it to the customer, write it here without a name, or reply to one of my messages.
handover-room-went-on = { $code }: the customer has gone back to the bot. Reply here to take over again.
handover-room-named = { $code }: since then, the bot has named { $names }.
handover-room-forgotten = { $code }: the customer has deleted everything. The case is gone, and so is what you wrote about it. Please delete the messages above.
handover-edited = { $code }: I don’t pass on edits. They have your message as it was. Reply once more with what’s right.
handover-forwarded = { $code }: I don’t pass on forwarded messages. Write it yourself, as a reply.
handover-words-only = { $code }: I can only pass on words and photos. This didn’t go out.
handover-closed = { $code } is closed, so this didn’t go out. Write “claim { $code }” to me in private to open it again, then reply once more.
handover-unreachable = { $code }: this didn’t go out. I can’t write to them just now.
handover-waits = { $code }: they’ll read this when they next write. Nothing reaches them before.
handover-failed = { $code }: this didn’t reach them.
handover-photo-lost = { $code }: I couldn’t pass on your photo. Send it once more, as a reply.
handover-not-handed = { $code }: the bot already has it.
handover-handed-back = { $code }: the bot has it again.
staff-deed-answered = { $photos ->
        [0] wrote to them: { $text }
       *[other] sent them a photo. { $text }
    }
staff-deed-handed-back = gave it back to the bot
