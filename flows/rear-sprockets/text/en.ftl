### Rear sprockets, in English: every word about this topic that a person reads.
### The reader stands beside a wheel, phone in one greasy hand. One thing at a time, the most important first.
### British spelling, plain trade words, no maker's name. Facts come from the catalogue and its sources.

topic-name = Rear sprockets
topic-purpose = I find out which tool takes your rear sprockets off safely.


## Questions
## The text itself: at most three short sentences. `.again`: the same looked at another way, for when two answers
## disagree. `.short`: the same once more, after something else. `.how`: how to check. `.name`: what to call the question. `.why`: what its answer is good for. `.said`: a clause that follows "you told me that".
## `.brief`: the same without a verb. `.with-…`: the same, where the answer to that question is known too.

question-wheel = Is the rear wheel out of the bike? The part that matters is hard to see while it is in.
    .short = Is the rear wheel out of the bike?
    .again = Let me make sure about the wheel. Could you pick it up and carry it away from the bike right now?
    .how =
        If the axle still sits in the frame, the wheel is in.
        If you can lift the wheel away on its own, it’s out.
    .why = While it’s in the frame, you can’t see the part that matters, and no tool goes on.
    .which-part = The back wheel: the one with the sprockets on it.
    .which-way = Stand behind the bike. The wheel drops down and back, out of the frame.
    .name = whether the wheel is out

question-drive = Can the bike roll along while your feet stay still? On a fixed wheel the pedals always go round with the wheel.
    .short = Can the bike roll along while your feet stay still?
    .again = Let me ask about coasting in other words. Picture yourself going downhill: can you keep your feet still while the bike rolls on?
    .how =
        1. Lift the back of the bike. Keep your fingers clear of the chain and the spokes.
        2. Turn the wheel forwards by hand, the way it rolls.
        3. If the pedals stay still, the bike coasts. If they go round too, it’s fixed.
        Is the wheel out? Hold it and turn the sprocket backwards. If the sprocket won’t turn by itself, it’s fixed.
    .why = A fixed wheel is held on another way, and its ring turns off clockwise.
    .name = whether the bike coasts

question-spin = With the wheel out of the bike, hold the tyre and spin the sprockets backwards. Watch the innermost ring, right next to the axle and its locknut. Does it turn with them, or stay still?
    .short = Spun backwards, does the ring next to the axle turn with the sprockets, or stay still?
    .again = Let me check the spin another way. Put a dot of pen or tape on the innermost fitting, by the axle, and spin the sprockets backwards again. Does the dot go round, or stay where it is?
    .how =
        1. Stand the wheel on the floor, out of the bike, sprockets towards you.
        2. Hold the wheel with one hand. With the other, spin the sprockets backwards (anticlockwise).
        3. Look only at the innermost fitting: the ring right next to the axle and its locknut.
        4. Does it go round with the sprockets, or does it stay still with the wheel?
        5. If the sprockets won’t spin without the wheel, just tell me.
    .called = cassette, casette, freewheel, free wheel, block
    .touched = Many people mix up the names cassette and freewheel, so I go by what you see.
    .why = It tells the most: what turns along is a cassette, what stays still is a freewheel. They take different tools.
    .which-part = Hold the tyre, and spin the toothed wheels (sprockets) backwards. Watch the ring in the very middle, right next to the axle.
    .how-exact = A gentle push by hand is enough. One turn backwards shows it.
    .what-counts = Only the ring in the very middle counts, right next to the axle. The axle and its nuts don’t.
    .looks-like = If it turns, it goes round with the sprockets, like one piece. If it stays still, it stands with the wheel while the sprockets go round it.
    .which-way = Backwards: anticlockwise, with the sprockets facing you.
    .name = the spin test

question-fitting = With the wheel out of the bike, look at the innermost fitting, right next to the axle and its locknut. What is there for a tool to grip?
    .short = What’s there for a tool to grip, right next to the axle?
    .again = Let’s go back to the part the tool grips. Shine a torch in from the side and feel round it with a toothpick, close to the axle. What do you find there?
    .how =
        1. Wipe the dirt away round the axle. Dirt hides splines. Then shine a torch in.
        2. Start at the axle. The axle, its nuts, the cone and the locknut aren’t the fitting: they belong to the axle.
        3. The first ring outside them is the one that counts. It’s not the big face ring further out.
        4. Many small teeth are splines. A few wide slots are notches, in its face or on its outside edge.
    .why = The tool has to fit it: splines and notches take different tools.
    .which-part = Start at the axle and go outwards. The first ring outside the axle and its nuts is the one. The big face ring further out isn’t.
    .what-counts = Only the ring the tool goes into counts, right next to the axle. The axle and its nuts don’t.
    .how-exact = Just what kind it is: many small ridges, or a few wide slots. The number comes later.
    .looks-like = Splines are many small ridges, like the inside of a socket. Notches are a few wide slots, in the face of the ring or on its outside edge.
    .name = what the tool grips

question-count = With the wheel out of the bike, look at the innermost fitting, right next to the axle. How many splines or notches does it have, all the way round?
    .short = How many splines or notches are there, all the way round?
    .again = Let’s check the number another way. Take a photo straight from the front, make it bigger, and tick them off on the screen. How many do you get?
    .how =
        1. Wipe the fitting clean.
        2. Put a pen mark or a bit of tape on one spline or notch. That is number one.
        3. Point at each one as you count, all the way round, and stop when you are back at the mark.
        4. Do it twice. If you get two different numbers, count a third time.
    .why = Tools differ by how many they have. The wrong one slips and chews it up.
    .which-part = Count on the first ring outside the axle and its nuts: the one a tool would go into.
    .what-counts = Splines: count the raised ridges and leave the gaps out. Notches: count the slots. Every one, all the way round, broken ones too.
    .how-exact = It has to be the exact number: one too many is another tool. Start at a pen mark and count twice.
    .looks-like = Splines are many small ridges, often 12 or 20. Notches are wide slots, often 2 or 4.
    .name = the number of splines or notches
    .said = the count is { $value }
    .brief = { $value } of them
    .with-fitting = { $value } { $fitting ->
        [splines] { $value ->
            [one] spline
           *[other] splines
        }
        [outer-notches] { $value ->
            [one] notch on the outside edge
           *[other] notches on the outside edge
        }
       *[notches] { $value ->
            [one] notch
           *[other] notches
        }
    }

question-size = How wide is the fitting, in mm, where the remover goes? Measure straight across the middle, from outer edge to outer edge. Say what you used too: a calliper, a ruler or a coin.
    .short = How wide is the fitting, in mm?
    .again = Let’s get the width another way, with a coin. Hold a coin as close to the fitting as you can. Say which coin, and whether the fitting is wider or narrower.
    .how =
        Calliper: use the small jaws in a hole, the large jaws round a ring. The widest reading is the right one.
        Ruler: lay it flat across the middle and take the widest reading. Off-centre reads too small, tilted too big.
        Is the axle in the way? Don’t measure beside it. Hold the ruler across its end and look straight down at each edge.
        Coin: hold it as close to the fitting as you can. Say which coin, and whether the fitting is wider or narrower.
    .why = Some tools look alike and only the width tells them apart. One that’s a millimetre out slips.
    .which-part = The ring the tool goes into. Measure right across its middle, from edge to edge.
    .what-counts = From outer edge to outer edge, at the widest place. In a hole, measure the widest part of the hole.
    .how-exact = To the millimetre if you can. Roughly is fine too: say “about”. Most are between 20 and 40 mm, and I take cm and inches as well.
    .name = the width of the fitting
    .said = it measures { $value }
    .brief = { $value }

question-sprockets = How many sprockets (cogs) are there at the back?
    .short = How many sprockets are there at the back?
    .again = Let’s count the sprockets one by one. Start at the biggest, by the spokes, and touch each one on the way out to the smallest. How many did you touch?
    .how =
        1. Look at the back wheel only. The toothed wheels by the pedals don’t count.
        2. Count from the smallest, on the outside, to the largest, by the spokes.
        3. Just one? Then the answer is 1.
    .why = How many there are tells what kind it’s likely to be, so there’s less to ask.
    .which-part = The toothed wheels at the back, in the middle of the rear wheel. The ones by the pedals don’t count.
    .what-counts = Every toothed wheel at the back counts, the smallest one too. Plastic discs and spacers don’t.
    .how-exact = The right number helps, but one more or less is no harm: say “about 7”.
    .looks-like = They are toothed wheels in a stack, and the chain runs on one of them.
    .name = the number of sprockets
    .said = { $value ->
        [one] there is one sprocket at the back
       *[other] there are { $value } sprockets at the back
    }
    .brief = { $value ->
        [one] one sprocket
       *[other] { $value } sprockets
    }

question-body = What shape is the hub’s body, the part the sprockets sit on? Look behind the largest sprocket, or through the gaps. Count the ridges if you can.
    .short = What’s the hub’s body like, behind the largest sprocket?
    .again = Let’s look at the hub’s body from another side. Turn the wheel over, peer between the spokes and the largest sprocket with a torch, and find the ridges on the body. What are they like?
    .how =
        1. Shine a torch behind the largest sprocket, or through the gaps in the sprockets.
        2. The splines are ridges that run along the body, from the spokes outwards.
        3. Look for nine ridges with one narrower than the rest, or for eight deep ones.
        4. If you can’t see it, just say so. Don’t take anything apart for this.
    .why = Two rings look the same from outside, and the body tells which tool it takes.
    .name = the hub’s body

question-marking = Which maker’s name do you see? Look on the rear derailleur (the arm that moves the chain), on the sprockets and on the body under them.
    .short = Which maker’s name can you see?
    .again = Let me ask about the maker’s name again. Wipe the parts and hold a torch low from the side, so that faint letters show. What do you read on the rear derailleur, the sprockets or the body?
    .how =
        1. Read the outer face of the rear derailleur.
        2. Then look at the face of the sprockets and of the ring in the middle.
        3. The name on the frame or the tyre doesn’t count.
        4. Can’t see a name? That’s an answer too.
    .why = A few makers fasten theirs in a way of their own.
    .name = the maker’s name

question-torque = Is a torque stamped on the ring in the middle of the sprockets? It looks like 40 N·m or 40 Nm.
    .short = Is there a torque stamped on the ring, such as 40 Nm?
    .again = Let’s look for the stamp again. Wipe the ring and read its outer face right round, with a torch held low. Is there a number with Nm after it?
    .how =
        1. Wipe the ring in the middle of the smallest sprocket.
        2. Turn the sprockets slowly and read all the way round its outer face.
        3. Look for a number followed by N·m or Nm. A number like 11T is the number of teeth, not the torque.
    .why = Only one kind of ring has it stamped on, so it tells a lot.
    .name = the stamped torque

question-lockring-tool = Is there a common 12-spline lockring tool within reach? Push it into the splines by hand, and never force it. Does it go all the way home, or does it stop short?
    .short = Pushed in by hand, does the common lockring tool go all the way home, or does it stop short?
    .again = Let’s try the lockring tool once more. Clean the splines with a toothpick first, then push it in straight, by hand only. Is it fully home without rocking, or does it stop short?
    .how =
        1. Use the common 12-spline lockring tool. Without one, just say you haven’t got it.
        2. Wipe the splines, so that dirt doesn’t stop the tool.
        3. Push it in straight, by hand only. No hammer, no spanner.
        4. Home: it slides in to the bottom and doesn’t rock. Short: it stops early or rocks.
    .why = Two rings look the same. Whether the common tool goes home tells them apart.
    .name = how the lockring tool fits

question-freewheel-tool = Is there a 12-spline freewheel remover, 23 mm, within reach? Push it into the splines by hand, and never force it. Does it go all the way home, or does it stop short?
    .short = Pushed in by hand, does the 23 mm freewheel remover go all the way home, or does it stop short?
    .again = Let’s try the freewheel remover once more. Clean the splines with a toothpick first, then push it in straight, by hand only. Is it fully home without rocking, or does it stop short?
    .how =
        1. Use the usual 12-spline freewheel remover, 23 mm. Without one, just say you haven’t got it.
        2. Wipe the splines, so that dirt doesn’t stop the tool. A thick locknut can stop it too.
        3. Push it in straight, by hand only. No hammer, no spanner.
        4. Home: it slides in to the bottom and doesn’t rock. Short: it stops early or rocks.
    .why = Two kinds look the same. Whether the tool goes home tells them apart.
    .name = how the freewheel remover fits

question-hub = What is inside the rear hub? Some hubs brake when you pedal backwards, and some have their gears inside.
    .short = What’s inside the rear hub?
    .again = Let me ask how the bike rides. Do you slow down when you pedal backwards? Do you change gear with no derailleur at the back?
    .how =
        1. A hub that brakes when you pedal backwards has an arm fixed to the frame on the left side.
        2. Gears inside? Then a thin gear cable or a small chain goes in near the axle. An electric cable is a motor.
        3. Neither of these? Then it’s a plain hub.
    .why = A hub with a brake or gears inside holds its sprocket another way.
    .name = the kind of hub

question-wire-ring = Is the sprocket held on by a thin wire ring? It lies in a groove, right where the sprocket meets the hub.
    .short = Is the sprocket held on by a thin wire ring?
    .again = Let’s look for the wire ring another way. Run a toothpick round the hub, just outside the sprocket. Does it touch a thin, springy ring with one gap in it?
    .how =
        1. Wipe the place where the sprocket meets the hub.
        2. Look for a thin round wire, nearly a full circle, with one gap.
        3. Only look. Don’t prise it out yet: it can fly.
    .why = A wire ring comes off with a small screwdriver. No remover fits it.
    .name = the wire ring

question-axle = What holds the rear wheel in the frame? It may get in the way of the remover.
    .short = What holds the rear wheel in the frame?
    .again = Let’s check the axle from the other end. Look at the side without sprockets. Is there a lever, a nut, a smooth axle you pull right out, or a cable?
    .how =
        1. A quick-release lever folds, and a thin rod runs through the hollow axle.
        2. Axle nuts take a spanner, one on each side.
        3. A through-axle is one thick axle that slides right out of the hub.
        4. A motor hub has a cable that comes out of the axle.
    .later = Nuts on the axle? Tell me: that takes a deep remover.
    .beforehand = If it’s nuts that hold the wheel, say so now. Then you need the deep remover.
    .why = A nut or a lever may have to come off before the tool goes on.
    .which-part = Look at the ends of the axle, where the wheel sits in the frame.
    .looks-like = A quick-release has a lever that folds. Nuts stick out and take a spanner. A through-axle is one thick rod you pull right out.
    .name = the kind of axle

question-motor = Is there a motor on the bike, and where is it?
    .short = Is there a motor on the bike, and where?
    .again = Let me be sure about the motor. Does a thick cable run to the rear hub, or is there a motor anywhere else on the bike?
    .how =
        1. Look for a battery on the frame, inside it or on the rack. A screen or a charging socket gives it away too.
        2. A motor in the rear hub makes the hub big and heavy, with a cable into the axle.
        3. It may also sit by the pedals or in the front wheel.
    .why = A motor in the hub can hurt you, and its cable gets in the way of some tools.
    .name = whether there is a motor

question-condition = How do the splines or notches look? Are their edges still sharp and square, or worn round?
    .short = Are the splines or notches still sharp, or worn round?
    .again = Let me ask about the wear once more. Push the remover in by hand, or feel the edges with a toothpick. Is there a firm, square edge to push against?
    .how =
        1. Wipe the fitting and shine a torch on it.
        2. Look at the edges that the tool pushes against. Good ones are straight and sharp.
        3. Round or broken edges are worn. If in doubt, say worn.
    .why = In worn edges the tool slips and hurts your hand. Then it’s a job for the bench.
    .looks-like = Good edges are square and sharp, like new. Worn ones look round or chewed.
    .which-part = The edges the tool pushes against, on the ring right next to the axle.
    .name = the state of the splines or notches


## Choices
## The text itself is a button: 45 characters at most. `.said` follows "you told me that", and `.denied`
## says the opposite. Said back at once: `.brief`, without a verb, or `.echo`, where the question was just asked.

choice-wheel-out = Yes, it is out
    .said = the wheel is out
    .echo = it’s out
    .denied = the wheel isn’t out
choice-wheel-in = No, it is still in the bike
    .aside = The wheel’s still in
    .said = the wheel is still in the bike
    .echo = it’s still in
    .denied = the wheel isn’t in the bike

choice-drive-coasts = Yes, it coasts
    .said = the bike can roll while the pedals stay still
    .echo = it coasts
    .denied = the bike doesn’t coast
choice-drive-fixed = No, the pedals always go round
    .said = the pedals always go round with the wheel
    .denied = the pedals don’t always go round with the wheel

choice-spin-turns = It turns with the sprockets
    .said = the middle turns with the sprockets
    .echo = it turns
    .denied = the middle doesn’t turn with the sprockets
choice-spin-stays = It stays still
    .said = the middle stays still
    .echo = it stays put
    .denied = the middle doesn’t stay still

choice-fitting-splines = Splines: many small teeth all round
    .said = the fitting has splines
    .brief = splines
    .denied = there are no splines
choice-fitting-notches = Notches: a few wide slots in its face
    .said = the fitting has notches
    .brief = notches
    .denied = there are no notches
choice-fitting-outer-notches = Notches on the outside edge of a ring
    .said = the fitting is a ring with notches on its outside edge
    .brief = notches on the outside edge
    .denied = there are no notches on the outside edge of a ring
choice-fitting-none = Nothing that a tool could grip
    .said = there’s nothing for a tool to grip
    .echo = there’s nothing to grip
    .denied = there’s something for a tool to grip

choice-body-nine-one-narrow = Nine splines, one of them narrower
    .said = the hub’s body has nine splines with one narrower
    .brief = nine splines with one narrower on the body
    .denied = the hub’s body doesn’t have nine splines with one narrower
choice-body-eight-deep = Eight deep splines
    .said = the hub’s body has eight deep splines
    .brief = eight deep splines on the body
    .denied = the hub’s body doesn’t have eight deep splines
choice-body-other-splines = Splines of another pattern
    .said = the hub’s body has splines of another pattern
    .brief = another pattern on the body
    .denied = the hub’s body has no other pattern of splines
choice-body-no-splines = No splines at all
    .said = the hub’s body has no splines
    .brief = no splines on the body
    .denied = the hub’s body has splines

choice-marking-common-ring = A maker that uses the common lockring
    .said = the maker uses the common lockring
choice-marking-deep-ring = A maker that uses the deep lockring
    .said = the maker uses the deep lockring
choice-marking-odd-freewheel = A maker with its own odd freewheel size
    .said = the maker has its own odd freewheel size
choice-marking-other = Another name, or no name at all
    .said = there’s another maker’s name, or none
    .brief = another name or none

choice-torque-yes = Yes, a torque is stamped on it
    .said = a torque is stamped on the ring
    .brief = a torque on the ring
    .denied = no torque is stamped on the ring
choice-torque-no = No, there is no torque on it
    .said = no torque is stamped on the ring
    .brief = no torque on the ring
    .denied = a torque is stamped on the ring

choice-lockring-tool-home = It goes all the way home
    .said = the common lockring tool goes all the way home
    .denied = the common lockring tool doesn’t go all the way home
choice-lockring-tool-stops-short = It stops short or rocks
    .said = the common lockring tool stops short
    .denied = the common lockring tool doesn’t stop short

choice-freewheel-tool-home = It goes all the way home
    .said = the 23 mm freewheel remover goes all the way home
    .denied = the 23 mm freewheel remover doesn’t go all the way home
choice-freewheel-tool-stops-short = It stops short or rocks
    .said = the 23 mm freewheel remover stops short
    .denied = the 23 mm freewheel remover doesn’t stop short

choice-hub-plain = Nothing special, a plain hub
    .said = the hub is a plain one
    .brief = a plain hub
    .denied = the hub isn’t a plain one
choice-hub-brakes-backwards = It brakes when you pedal backwards
    .said = the hub brakes when you pedal backwards
    .brief = a hub that brakes backwards
    .denied = the hub doesn’t brake when you pedal backwards
choice-hub-geared = It has gears inside
    .said = the hub has gears inside
    .brief = gears inside the hub
    .denied = the hub has no gears inside

choice-wire-ring-yes = Yes, there is a wire ring
    .said = a wire ring holds the sprocket on
    .brief = a wire ring
    .denied = no wire ring holds the sprocket on
choice-wire-ring-no = No, there is no wire ring
    .said = no wire ring holds the sprocket on
    .brief = no wire ring
    .denied = a wire ring holds the sprocket on

choice-axle-quick-release = A quick-release lever
    .said = a quick-release lever holds the wheel
    .brief = a quick-release lever
    .denied = no quick-release lever holds the wheel
choice-axle-nuts = Axle nuts
    .said = axle nuts hold the wheel
    .brief = axle nuts
    .denied = no axle nuts hold the wheel
choice-axle-through-axle = A through-axle that slides right out
    .said = a through-axle holds the wheel
    .brief = a through-axle
    .denied = no through-axle holds the wheel
choice-axle-motor-cable = A motor cable comes out of the axle
    .said = a motor cable comes out of the axle
    .brief = a motor cable
    .denied = no motor cable comes out of the axle

choice-motor-none = No motor
    .said = the bike has no motor
    .brief = no motor
    .denied = the bike has a motor
choice-motor-rear-hub = Yes, in the rear hub
    .said = there is a motor in the rear hub
    .brief = a motor in the rear hub
    .denied = there is no motor in the rear hub
choice-motor-elsewhere = Yes, somewhere else on the bike
    .said = there is a motor, but not in the rear hub
    .brief = a motor, but not in the rear hub
    .denied = there is no motor anywhere else on the bike

choice-condition-good = Sharp and square
    .said = the edges are sharp and square
    .brief = sharp edges
    .denied = the edges aren’t sharp and square
choice-condition-worn = Worn, rounded or broken
    .said = the edges are worn, rounded or broken
    .brief = worn edges
    .denied = the edges aren’t worn, rounded or broken


## Can they look at it now?

ability-wheel-in = No rush. Won’t it come out? Bring the whole bike, and the shop takes the wheel out for you.
    .first =
    Let’s get the wheel out first.
    1. Electric bike: switch it off, take the battery out, and unplug any cable that runs to the wheel. Never pull or twist the cable.
    2. Shift to the smallest sprocket at the back.
    3. Release the rear brake. Undo any brake arm or gear cable at the hub.
    4. Open the lever, undo the axle nuts or pull out the through-axle.
    5. Hold the chain back and lift the wheel out.
    Would you rather not do it yourself? Ask for a person. Is it out? Then:
ability-wheel-out = Good, the wheel is out.


## Fastenings
## `.short` has no article: it stands in lists and tables. `.glance`: as a mechanic says it, in a few words.

fastening-cassette-12-spline = a cassette held by a lockring with 12 splines (the common kind)
    .glance = a cassette with the common 12-spline lockring
    .short = cassette, common 12-spline lockring
fastening-cassette-12-spline-deep = a cassette held by the other 12-spline lockring (the deep kind)
    .glance = a cassette with the deep 12-spline lockring
    .short = cassette, deep 12-spline lockring
fastening-cassette-threaded-driver = a cassette held by a threaded sleeve inside it, which has 12 splines like the common lockring
    .glance = a cassette held by a threaded sleeve with 12 splines
    .short = cassette, 12-spline threaded sleeve
fastening-cassette-notched-ring = a single sprocket that coasts, held by a ring with notches on its outside edge
    .glance = a single sprocket that coasts, with a notched ring
    .short = single sprocket that coasts, notched ring
fastening-cassette-threaded-sprocket = an old kind of cassette, where the smallest sprocket screws on and locks the others
    .glance = an old cassette that its smallest sprocket locks
    .short = old cassette, screwed smallest sprocket
fastening-freewheel-12-spline = a freewheel with 12 splines, about 23 mm across
    .glance = a 12-spline freewheel, 23 mm
    .short = freewheel, 12 splines, 23 mm
fastening-freewheel-12-spline-small = an old freewheel with 12 splines, smaller than usual: about 20 mm across
    .glance = an old, small 12-spline freewheel, 20 mm
    .short = old freewheel, 12 splines, 20 mm
fastening-freewheel-12-spline-odd = a freewheel with 12 splines in one maker’s own odd size, about 22.5 mm across
    .glance = a 12-spline freewheel of the odd size
    .short = freewheel, 12 splines, odd size
fastening-freewheel-20-spline = a freewheel with 20 splines
    .glance = a 20-spline freewheel
    .short = freewheel, 20 splines
fastening-freewheel-2-notch = a freewheel with 2 notches, about 25 mm across
    .glance = a 2-notch freewheel, 25 mm
    .short = freewheel, 2 notches, 25 mm
fastening-freewheel-4-notch-24 = a freewheel with 4 notches, about 24 mm across
    .glance = a 4-notch freewheel, 24 mm
    .short = freewheel, 4 notches, 24 mm
fastening-freewheel-4-notch-32 = a small single-speed freewheel with 4 notches, about 32 mm across
    .glance = a small single-speed freewheel, 4 notches, 32 mm
    .short = single-speed freewheel, 4 notches, 32 mm
fastening-freewheel-4-notch-40 = a single-speed freewheel with 4 notches, about 40 mm across
    .glance = a single-speed freewheel, 4 notches, 40 mm
    .short = single-speed freewheel, 4 notches, 40 mm
fastening-fixed-notched-ring = a fixed sprocket, locked by a ring with notches on its outside edge and a left-hand thread
    .glance = a fixed sprocket with a left-hand notched ring
    .short = fixed sprocket, left-hand notched ring
fastening-snap-ring-sprocket = a sprocket held on its hub by a wire ring in a groove
    .glance = a sprocket held by a wire ring
    .short = hub sprocket, wire ring
fastening-freewheel-3-notch = a rare freewheel with 3 notches
    .glance = a rare freewheel with 3 notches
    .short = rare freewheel, 3 notches
fastening-freewheel-6-notch = a rare freewheel with 6 notches
    .short = rare freewheel, 6 notches
fastening-freewheel-8-notch = a rare freewheel with 8 notches
    .short = rare freewheel, 8 notches
fastening-freewheel-fine-spline = a rare freewheel with 22 to 24 fine splines
    .short = rare freewheel, 22 to 24 splines
fastening-ring-16-outer-notch = a rare ring with 16 notches round its outside
    .short = rare ring, 16 outside notches
fastening-hub-helical-bayonet = a rare old hub, where the sprockets lock on a helical bayonet
    .short = rare old hub, helical bayonet
fastening-locknut-flats = the flats of the axle’s locknut or cone, and not the fitting itself
    .short = locknut or cone flats, not the fitting
fastening-unlisted = something that isn’t on my list
    .short = not on my list


## Tools

remover-lockring-tool-12-spline = the common 12-spline lockring tool
remover-lockring-tool-12-spline-deep = the other (deep) 12-spline lockring tool
remover-remover-12-spline = the 12-spline freewheel remover, 23 mm
remover-remover-12-spline-odd = the 12-spline freewheel remover of the odd size, about 22.5 mm
    .short = the odd 12-spline freewheel remover
remover-remover-20-spline = the 20-spline freewheel remover
remover-remover-2-notch = the 2-notch freewheel remover, 25 mm
remover-remover-4-notch-24 = the 4-notch freewheel remover, 24 mm
remover-remover-4-notch-32 = the 4-notch freewheel remover, 32 mm
remover-remover-4-notch-40 = the 4-notch freewheel remover, 40 mm
remover-hook-spanner = a hook spanner
remover-two-chain-whips = two chain whips
remover-small-flat-screwdriver = a small flat screwdriver

accessory-chain-whip = a chain whip, to hold or turn the sprockets
accessory-large-spanner = a large spanner to turn the tool, or a vice to hold it
accessory-clamp = the axle nut or the quick-release skewer, to hold the remover in place
accessory-gloves = gloves, because the teeth are sharp
accessory-eye-protection = eye protection, because the ring can fly off


## Cautions
## What can happen, what it does to you or the bike, how to avoid it. The signal word is put in front. `.short`: the
## same for staff, who know why. `.glance`: what can happen, where the rest comes with its step.

signal-warning = WARNING
signal-caution = CAUTION
signal-notice = NOTICE

caution-electric = The motor can start while your hands are in the wheel, and crush your fingers. Switch the bike off and take the battery out before you touch anything.
    .glance = The motor can start and crush your fingers. Take the battery out first.
    .short = Switch the motor off and take the battery out first. It can crush your fingers.
caution-motor-cable = A motor cable comes out of the axle. If you twist or pull it, it can tear, and the motor may then fail while you ride. Unplug it first, never twist or pull it, and use a remover that the cable passes through.
    .glance = A twisted motor cable tears.
    .short = Unplug the motor cable and never twist or pull it, or it tears. Use a remover that the cable passes through.
    .tool = It must be one that the motor’s cable passes through.
caution-wrong-lockring-tool = Two kinds of 12-spline tool look alike, and the wrong one ruins the splines. Push the tool in by hand. If it doesn’t slide fully home, stop, and never force it.
    .glance = Two tools look alike, and the wrong one ruins the splines.
    .short = Two 12-spline tools look alike, and the wrong one ruins the splines. Push it in by hand; if it’s not fully home, stop.
caution-worn-fitting = In a worn or shallow fitting the remover jumps out and hurts your hand. Once the notches or splines are gone, the only way to get the part off is to destroy it. If the tool doesn’t sit firmly, stop and take the wheel to the shop.
    .glance = In a worn fitting the remover jumps out and hurts your hand.
    .short = Worn or shallow: the remover jumps out and hurts your hand. If it doesn’t sit firmly, stop.
caution-face-ring = Leave the freewheel’s own face ring alone. If it comes off, the balls fall out. Turn only the innermost fitting, next to the axle.
    .glance = Leave the big face ring alone, or the balls fall out.
    .short = Leave the freewheel’s own face ring alone, or its balls fall out.
caution-solid-axle = A solid axle can stop a short remover from going all the way in. The remover then slips and hurts your hand. Use a deep, hollow remover that goes over the axle.
    .glance = On a solid axle a short remover slips.
    .short = On a solid axle a short remover slips and hurts your hand. Use a deep, hollow one.
    .tool = Nuts on the axle: it must be a deep, hollow one that goes over it.
caution-tool-slips = The tool can slip when you pull hard, and then your knuckles hit the teeth. Push it fully home and hold or clamp it there. Stand so that your hands move away from the teeth.
    .glance = The tool can slip, and your hand hits the teeth.
    .short = The tool can slip, and your knuckles hit the teeth. Push it fully home and hold or clamp it.
caution-teeth-cut = Sprocket teeth cut. Wear gloves, and think where your hand goes if the tool lets go.
    .glance = Sprocket teeth cut.
    .short = Teeth cut. Wear gloves.
caution-clamp-off = As the freewheel unscrews, it moves out and jams against the clamp. Then something breaks and you can get hurt. Free it a quarter turn, then take the clamp off before you unscrew further.
    .glance = A clamp left on jams, and something breaks.
    .short = Free it a quarter turn, then take the clamp off, or something breaks and you get hurt.
caution-ring-flies = The wire ring can fly off and hurt your eye. Wear eye protection, and hold a cloth over the ring as it comes out.
    .glance = The wire ring can fly into your eye.
    .short = The wire ring flies and can hurt your eye. Wear eye protection and hold a cloth over it.
caution-fixed-unscrews = A fixed sprocket held by an ordinary right-hand ring can unscrew when you brake with your legs. Then you have no brake there, and you can crash. Fit the proper left-hand ring, and tighten it well.
    .glance = With a wrong ring the sprocket unscrews when you brake.
    .short = With a right-hand ring, a fixed sprocket unscrews when you brake: no brake, and you crash. Fit the left-hand ring, tight.
caution-check-before-riding = If you put a wheel or brake back wrongly, it can fail on the road, and you can crash. Follow the maker’s manual and the rules where you live. If you aren’t trained, have a qualified mechanic check the bike before you ride.
    .glance = A wheel put back wrongly can fail on the road.
    .short = A wheel or brake put back wrongly fails on the road. Have a qualified mechanic check it before the ride.

referral-motor-rear-hub = There’s a motor in this wheel, so it’s best if somebody who knows that motor takes it out. Please leave it in, and bring the whole bike.
referral-axle-motor-cable = There’s a motor in this wheel, so it’s best if somebody who knows that motor takes it out. Please leave it in, and bring the whole bike.
referral-condition-worn = Please stop here, and take the wheel to the shop. While some of the edges are left, a mechanic has more to work with.


## Steps, directions, putting it back

step-prepare = Get ready
step-fit-tool = Fit the tool
step-loosen = Loosen it
step-unscrew = Unscrew it
step-lift-off = Lift it off
step-refit = Put it back

direction-anticlockwise = To loosen it, turn anticlockwise, seen from the sprocket side.
    .short = Loosens anticlockwise.
direction-clockwise = The ring unscrews clockwise, seen from the sprocket side, because it has a left-hand thread. The sprocket under it then unscrews the usual way, anticlockwise.
    .short = The ring loosens CLOCKWISE: left-hand thread.
direction-none = You don’t unscrew anything: you lift the wire ring out of its groove.
    .short = Nothing unscrews: the ring lifts out.

refit-lockring = Slide the sprockets on in their order, the narrow slot over the narrow ridge. Grease the thread. Start the lockring by hand, clockwise. Tighten it to the torque stamped on the ring, or to { $torque } N·m if there’s none: about { $kilos } kilos of pull at the end of a { $handle } mm handle.
refit-sleeve = Start the threaded sleeve by hand, clockwise. Tighten it to the torque stamped on it, or to { $torque } N·m if there’s none: about { $kilos } kilos of pull at the end of a { $handle } mm handle.
refit-notched-ring = Start the ring by hand, clockwise, and tighten it firmly with the hook spanner. I don’t know a torque for it, but the maker’s manual may give one.
    .short = firmly with the hook spanner; no torque known.
refit-threaded-sprocket = Put the other sprockets on first, then start the smallest one by hand, clockwise. Tighten it with a chain whip. Never force a thread.
    .short = the smallest sprocket last, by hand, then with a chain whip.
refit-freewheel = Grease the thread. Start the freewheel by hand, clockwise, and never force it. You don’t need to tighten it: pedalling does that.
    .short = by hand, never forced. It needs no torque: pedalling tightens it.
refit-fixed = Start the sprocket by hand, clockwise, and tighten it with the chain whip. Then screw the left-hand ring on anticlockwise, and tighten it hard against the sprocket.
    .short = the sprocket clockwise with the whip, then the left-hand ring anticlockwise, hard against it.
refit-snap-ring = Put the sprocket back the same way round as it came off. Press the wire ring into its groove, all the way round, and keep your eyes protected. Check that it sits firmly everywhere.
    .short = press the wire ring into its groove all the way round.


## What to know next

advice-buy-cassette = Buying a new cassette? It must have the same number of sprockets and fit the same hub body. If its smallest sprocket has 10 teeth, it won’t go on the body with nine splines, one of them narrower.
advice-hidden-lockring = Can’t find the lockring? It often hides deep inside, close to the axle.
advice-leave-to-shop = Leave it to the shop if the tool won’t sit firmly, if nothing moves, or if you don’t feel sure. Stopping early does no harm.
advice-buy-threaded-driver = Buying a new cassette? It must screw onto the same threaded body and have the same number of sprockets. Take the old one along.
advice-buy-single = Buying a new one? Count its teeth, and take the old part along to compare.
advice-buy-old-cassette = New sprockets for this old kind must fit the same body and the same thread. Ask the shop first, and take the old ones along.
advice-buy-freewheel = Buying a new freewheel? It must have the same thread as the hub and the same number of sprockets. Ask which remover the new one takes.
advice-thread-kinds = You can mix three freewheel threads in practice: 1.375 in × 24 (ISO 6698), old British 1.370 in × 24 and Italian 35 × 1.058 mm. The French one, 34.7 × 1 mm, binds or strips with the others. Start by hand, and never force it.
advice-locknut-blocks = Does a locknut or a spacer keep the remover out? The remover’s wall may be too thick, and a thinner one may go in. Don’t force it: ask the shop.
advice-no-remover-sold = You can’t generally buy a remover for this old size. Don’t try one that nearly fits: it ruins the splines.
    .short = You can’t buy a remover for it.
advice-rare-kind = I don’t know a remover for this kind. Please don’t try one that nearly fits: it slips and ruins the fitting.
    .short = It isn’t on the list of tools: I know no remover for it.
advice-look-outside-the-locknut = Six flats belong to the axle’s locknut, and two flats to the cone under it. No remover goes there. Look for the first ring just outside them, and tell me what you see on that.
    .short = Those are locknut or cone flats: look at the ring just outside.
advice-small-thread = This freewheel sits on the small thread, 30 × 1 mm. One made for the usual large thread won’t fit this hub.
advice-buy-fixed = Buying a new fixed sprocket? Count its teeth, and take the sprocket and its ring along. The ring must be the left-hand kind that fits your hub.
advice-buy-hub-sprocket = Buying a new sprocket? It must fit this hub, so count its teeth and take the old one and its wire ring along.


## Look-alikes: the check that tells the two apart

look-alike-body =
    Look at the hub’s body, behind the largest sprocket or through the gaps.
    Nine splines, one of them narrower: the common tool.
    Eight deep splines: the other (deep) tool.
    Can’t see it? Tell me the maker’s name on the rear derailleur.
    Got the common tool? Push it in by hand. It goes all the way home in the common kind, and stops short in the deep one.
    .short = Look behind the largest sprocket. Nine splines, one narrower: the common tool. Eight deep splines: the deep one. Can’t see? Tell me the maker’s name.
look-alike-freewheel-tool =
    Look for a maker’s name on the freewheel’s body, and tell me what it says. You can’t tell 22.5 from 23 mm with a ruler.
    No name? Push the usual 23 mm remover in by hand. It goes all the way home in the usual kind, and stops short in the odd one.
    .short = Is there a maker’s name on the freewheel’s body? Or push the usual 23 mm remover in by hand: it stops short in the odd kind.
    .tried = Is there a maker’s name on the freewheel’s body? Or clean the splines with a toothpick, and push the 23 mm remover in once more by hand.


## Pictures, in words

family-cassette = Cassettes
family-freewheel = Freewheels
family-fixed = Single sprockets
family-snap = Single sprockets

picture-innermost-fitting = A rear wheel seen from the sprocket side. In the very middle is the axle, and round it the locknut. An arrow points at the first ring outside the locknut: the innermost fitting. The larger face ring and the sprockets further out are greyed out.
picture-fitting-kinds = Four fittings, two and two. Splines: many small teeth all round a hole. Notches: a few wide slots in the face. Outside notches: slots cut into the outside edge of a ring. None: a smooth middle with nothing to grip.
picture-spin-test = Two rear wheels side by side, seen from the sprocket side. On both, a hand holds the tyre still, and arrows show the sprockets spinning backwards. There is a dot on the innermost fitting, by the axle. On the left the dot has gone round with the sprockets. On the right it is still where it was.
picture-count-with-a-mark = A fitting seen from the front. One spline has a pen mark, and a curved arrow runs from the mark all the way round and back to it.
picture-measure-across = At the top, a calliper. In a hole, its small jaws reach from groove to opposite groove. Round a ring, its large jaws lie on the full edge, not in a notch. The widest reading counts, also with an odd number. Below, a ruler lies flat across a fitting, its marks in mm. Its edge through the middle is marked right. A shorter line off to one side is marked wrong.
picture-body-patterns = Two hub bodies seen from the end. The first has nine splines, one of them narrower than the rest. The second has eight deep splines.
picture-wire-ring = A sprocket on its hub, seen from the front. A thin wire ring with one gap lies in a groove of the hub, just outside the sprocket.


## Words that people ask about
## One or two sentences, plain words; where it is, or what it is like.

glossary-spline = Splines are the little ridges a tool slides over, like the inside of a socket. They stand close together, all the way round.
glossary-notch = A notch is a wide slot cut into a ring. The tool has prongs that drop into it. There are only a few of them.
glossary-outer-notch = Outer notches are slots in the outside edge of a ring. A hook spanner hooks into one and turns the ring.
glossary-spline-or-notch = Splines are many little ridges, all the way round. Notches are a few wide slots.
glossary-innermost = That’s the first ring outside the axle and its locknut. The tool goes in or on it.
glossary-face-ring = The face ring is the big ring on the front of a freewheel. Leave it alone: it holds the balls in.
glossary-lockring = The lockring is a screwed ring, right in the middle of the smallest sprocket. It holds a cassette on.
glossary-lockring-or-locknut = The lockring holds the sprockets on. The locknut sits on the axle, further in, and stays where it is.
glossary-cassette = A cassette is a stack of sprockets that slides onto a body with ridges. A lockring holds it on.
glossary-freewheel = A freewheel is sprockets and ratchet in one piece. It screws onto the hub, and a remover unscrews it.
glossary-cassette-or-freewheel = A cassette slides onto the hub and a ring holds it there. A freewheel screws on in one piece. The spin test tells which you have.
glossary-freehub = The hub’s body is the part that the sprockets sit on. A cassette slides onto its ridges, and the ratchet is inside it.
glossary-hub-motor = A hub motor sits inside the wheel’s hub. The hub is big, and a cable goes into the axle.
glossary-drive-side = That’s the side with the chain and the sprockets: the right side, sitting on the bike.
glossary-breaker-bar = A breaker bar is a long handle, to turn what’s tight.
glossary-hub = The hub is the middle of the wheel, where the spokes start and the axle goes through.
glossary-geared-hub = That’s a fat hub with the gears inside. There’s one sprocket at the back, and no arm that moves the chain.
glossary-coaster-brake = That’s a brake inside the hub: you pedal backwards and it slows you down.
glossary-sprocket = Sprockets (cogs) are the toothed wheels at the back that the chain runs on.
glossary-chain-whip = A chain whip is a handle with a bit of chain on it. You wrap it round a sprocket to hold it still.
glossary-hook-spanner = A hook spanner, or C-spanner, has a nose like a crab’s claw. It catches in a notch on the outside of a ring.
glossary-remover = A remover is a short tool that fits into the splines or notches. A spanner or a vice turns it.
glossary-deep-remover = A deep remover is hollow and longer than most: it goes over the axle’s end, right down to the splines or notches. You need one where nuts hold the wheel.
glossary-lockring-tool = It’s a short tool with ridges outside, made to fit into a lockring. A spanner turns it.
glossary-axle = The axle is the rod through the middle of the wheel. It stays where it is.
glossary-axle-or-quick-release = The axle is the thick rod with screw lines. The skewer is the thin stick through a hollow axle, with a lever and two small springs.
glossary-solid-axle = A solid axle is a full rod with a nut at each end. A hollow one has a hole right through, for a thin rod with a lever.
glossary-locknut = The locknut is the nut with flat sides on the axle. It belongs to the axle, so it isn’t the part your tool grips.
glossary-cone = The cone is a nut on the axle that the balls run on. It belongs to the axle, so leave it alone.
glossary-spacer = A spacer is a plain ring that keeps two parts apart. Note where it sat when you take it off.
glossary-quick-release = A quick-release is a thin rod (the skewer) through the axle. Its lever clamps the wheel.
glossary-through-axle = A through-axle is one thick axle. It slides right out of the hub, and often has a lever.
glossary-quick-release-or-through-axle = A quick-release is a thin rod inside a hollow axle. A through-axle is the thick axle itself, and it slides right out.
glossary-anticlockwise = Anticlockwise is the way a clock’s hands don’t go: at the top, to the left. Look at it from the sprocket side.
glossary-clockwise = Clockwise is the way a clock’s hands go: at the top, to the right. Look at it from the sprocket side.
glossary-seized = Seized means stuck fast: rust or dirt holds it, and nothing moves.
glossary-worn = Worn means the edges have gone round, so a tool can’t push against them.
glossary-diameter = The diameter is how wide a round thing is, straight across through the middle.
glossary-across-flats = Across flats is how wide a nut is, from one flat side to the one facing it. It’s the size of spanner that fits.
glossary-newton-metre = N·m says how hard to turn. 40 N·m is a pull of about 14 kg at the end of a 30 cm handle.
glossary-torque = Torque is how hard you turn something. It’s given in N·m, and a special spanner measures it.
glossary-vice = A vice is a clamp bolted to a bench. It holds the remover while you turn the wheel.
glossary-wire-ring = It’s a thin, springy ring with a gap, in a groove just outside the sprocket. It keeps the sprocket on.
glossary-derailleur = The derailleur is the arm at the back that moves the chain from one sprocket to the next.
glossary-calliper = A calliper has two jaws that slide and a scale. It measures better than a ruler.
glossary-coasting = Coasting is rolling along while your feet stay still.
glossary-fixed-wheel = On a fixed wheel the pedals always go round with the wheel. You can’t coast.
glossary-single-speed = A single-speed bike has one sprocket at the back and no gears.
glossary-spin-test = You hold the wheel and spin the sprockets backwards. Watch if the ring next to the axle goes round with them or stays put.
glossary-threaded = A thread is the groove that runs round a screw. Turn the part and it screws on or off.
glossary-ratchet = The ratchet is what clicks when you coast. It grips one way and lets go the other.


## Asked in between
## One or two sentences; the open question follows. `{ $shop }`: what the shop takes for doing it, or nothing.

enquiry-which-part = The ring the tool goes into: the first one outside the axle and its nuts.
    .offer = Which part?
enquiry-explain = I’m finding out what holds your sprockets on, one question at a time. Say “I don’t know” to any of them.
enquiry-how-exact = The number of splines or notches must be exact. The width may be a rough one: say “about”.
    .offer = How exact?
enquiry-what-counts = Count the raised ridges of splines, or the slots of notches: every one, all the way round.
    .offer = What counts?
enquiry-looks-like = Splines are many small ridges, like the inside of a socket. Notches are a few wide slots.
    .offer = What does it look like?
enquiry-shortcut-pliers = Please don’t. Pliers slip and chew up the edges, and your knuckles hit the teeth. { $shop }
    .offer = Can I use pliers?
enquiry-shortcut-hammer = Please don’t. It chips, it can fly, and afterwards no tool fits. { $shop }
    .offer = Can I hammer it?
enquiry-shortcut-grinder = Please don’t. It throws sparks and splinters, and it cuts into the hub. { $shop }
enquiry-shortcut-heat = No heat, please. It burns you, and it ruins grease and bearings. { $shop }
    .offer = Can I heat it?
enquiry-shortcut-oil = Oil helps only if nothing moves: put a little on the thread, from behind, and give it hours. Keep it off the part the tool grips, and off any brake disc.
    .offer = Does oil help?
enquiry-no-chain-whip = A chain whip, please: an old chain or a rag slips, and the teeth cut your hand. Borrow one from us. { $shop }
    .offer = What if I’ve no chain whip?
    .unneeded = You need no chain whip for this one: the tool turns it all at once. Hold the wheel by its rim or tyre.
enquiry-shortcut-impact = No impact gun, please. It hammers the tool out and breaks the edges. A long handle and a steady pull do it. { $shop }
enquiry-spanner-for-tool = One that sits snugly on the flats of the tool: measure straight across them. The handle should be 30 cm or more. A bench vice does it too.
    .unneeded = You need no spanner for this one: the tool is its own handle.
enquiry-balls = The balls stay in if you leave the freewheel’s own face ring alone. A cassette has none that fall out.
    .offer = Will bearings fall out?
enquiry-longer-lever = A handle of 30 cm or a bit more is fine if the tool is clamped and can’t slip. Never stand or jump on it. { $shop }
    .offer = Can I use a longer handle?
enquiry-nearly-fits = Only the tool that really fits. One that nearly fits slips, ruins the edges and hurts your hand. { $shop }
    .offer = Will another tool do?
enquiry-usual-tool = Only if it goes all the way in by hand. The 12-spline tools look alike, and one that stops short chews the splines.
    .usual = Yes, the usual one is what you need. Push it all the way in by hand first.
    .other = No: it looks alike, but it stops short here and chews the splines. Take only the one I named.
enquiry-how-different = The 12-spline tools look alike, and differ by half a millimetre or so. The right one goes all the way in by hand.
    .usual = Its splines are a little wider than those of the tool that looks like it. Pushed in by hand, it goes all the way home.
    .other = They look alike, but the usual one stops short here and chews the splines. Take only the one I named.
enquiry-danger = It can be done safely if you take it slowly. A tool can slip, teeth cut, and a wire ring can fly: wear gloves, and glasses for the ring. I’ll tell you each danger at its step.
    .offer = Is it dangerous?
enquiry-gloves = Wear gloves, please: the teeth are sharp, and a hand that slips ends up on them.
    .offer = Do I need gloves?
enquiry-motor-shock = Switch it off and take the battery out before you touch anything. Then unplug the cable, and never pull or twist it. If a cable is damaged or you aren’t sure, leave it to the shop: { $contact }
enquiry-goggles = For a wire ring, yes: it can fly. For the rest it does no harm to wear them.
enquiry-wheel-harm = With the right tool, pushed fully home, the wheel is fine. A tool that doesn’t fit ruins the part it grips.
    .offer = Can it harm the wheel?
enquiry-whip-way = The other way from the tool: the whip that holds the sprockets back pulls clockwise. Set both handles like a V, and push both down.
    .clockwise = On this one the whip turns the sprocket: anticlockwise, once the ring is off. It only holds it while the ring turns clockwise.
    .unneeded = You need no chain whip for this one: the tool turns it all at once.
enquiry-left-hand-thread = Only the ring on a fixed wheel has a left-hand thread. All others undo anticlockwise, seen from the sprocket side.
    .offer = Is it left-hand thread?
    .clockwise = Yes, as it looks so far: a fixed wheel’s ring has one, and unscrews CLOCKWISE, seen from the sprocket side. The sprocket under it has none.
enquiry-which-way = Nearly always anticlockwise, seen from the sprocket side. Only the ring on a fixed wheel goes the other way.
    .offer = Which way does it turn?
    .clockwise = The other way, as it looks so far: a fixed wheel’s ring unscrews CLOCKWISE, seen from the sprocket side. The sprocket under it goes anticlockwise.
enquiry-how-tight = That depends on what you have. A lockring takes the torque stamped on it, mostly 40 N·m. A freewheel needs none: pedalling does it.
    .offer = How tight does it go back?
enquiry-how-hard = You can do it yourself with the right tool. It takes one strong pull at first, and then it’s easy. { $shop }
    .offer = Is it hard to do?
enquiry-how-long-me = With the right tool, allow half an hour the first time. Stuck ones take longer. { $shop }
    .offer = How long will it take me?
enquiry-new-parts = Nothing gets used up: a cassette or freewheel that isn’t worn goes back on with its own ring. A worn chain skips on new sprockets, so have it measured.
    .offer = Do I need new parts?
enquiry-ride-after = Once it’s all back and tight and the brakes work, yes. If you aren’t sure, let a mechanic check it first.
    .offer = Can I ride it afterwards?
enquiry-ride-before = Don’t ride it with anything loose or damaged there: sprockets that aren’t tight can slip, and you can fall. If you aren’t sure, let the shop look first: { $contact }
    .offer = Can I ride it like this?
enquiry-wheel-out = The wheel has to come out: tool and spanner don’t fit on otherwise. I’ll tell you how.
    .offer = Must the wheel come out?
enquiry-wheel-how = Shift to the smallest sprocket. Open the lever, or undo both nuts, and unhook a rim brake. Pull the gear arm back: the wheel drops out, and you lift the chain off.
    .offer = How do I get the wheel out?
enquiry-other-sprockets = Often not: the hub’s body, the shifter and the chain have to match. Ask before you buy: { $contact }
enquiry-only-has = No, that one won’t do.
enquiry-front-too = Only the back: the front ones don’t matter here.
enquiry-tyre-off = All that can stay on. Just lift the chain off the sprocket as the wheel comes out.
    .offer = Must the tyre come off?
enquiry-which-tool = That’s what we’re finding out. A few more answers, and I’ll name the one tool.
enquiry-any-bike = I only need to know what holds the sprockets on. I’ll ask for a name if it matters.
enquiry-clean-first = Wipe the middle clean, so that you can see and the tool goes right in. The rest can stay dirty.
enquiry-photo = Yes, send one: straight from the front, with good light. I can’t read pictures myself, but the people here can.
    .offer = Can I send a photo?
enquiry-shortcut-spokes = Not through the spokes, please: they bend, and the wheel wobbles. Hold it by the tyre or the rim.
enquiry-no-vice = A vice isn’t needed: a spanner with a long handle, 30 cm or more, does it too. { $shop }
    .offer = What if I’ve no vice?
enquiry-noise = A loud crack as it lets go is normal, and so are clicks while a lockring turns.
    .offer = Is that noise normal?
enquiry-why-so-tight = Pedalling tightens a freewheel with every ride, and a lockring has teeth that bite. One strong pull, and it lets go.
enquiry-two-people = One person can do it. A second pair of hands helps to hold the wheel.
    .offer = Do I need a helper?
enquiry-motor-cable = Switch it off, take the battery out, and unplug the cable. Never pull or twist it. The tool must be one that the cable passes through.
enquiry-part-order = Put everything back in the order it came off. Thread the parts on a wire as you go.
    .offer = Which order do parts go in?
enquiry-grease = A thin coat on the thread as it goes back, yes. None on the part the tool grips.
    .offer = Do I need grease?
enquiry-newton-feel = 40 N·m is a pull of about 14 kg at the end of a 30 cm handle.
enquiry-foot-pounds = One foot-pound is about 1.36 N·m, so 40 N·m is about 30 foot-pounds.
enquiry-stuck = See that the tool sits firmly and you turn it the right way, then take a longer handle. Oil on the thread helps, overnight. No heat, no hammer.
    .offer = What if it won’t move?
enquiry-clamp = Clamp it: that keeps the tool from slipping out. Snug, no gap, and off again after a quarter turn.
enquiry-tools-needed = The one tool that fits, a long spanner or a vice, and gloves. A cassette needs a chain whip too.
    .offer = What tools do I need?
enquiry-other-trouble = That’s another job, and I only do rear sprockets. The people here can help: { $contact }
    .offer = It’s another problem


## Step by step
## One step a message: what to do, in at most three short sentences. Cautions stand before it. `.done`, `.slips` …: the
## button, where "Done" says too little. `.watch`: what a mentor should look out for.

procedure-lockring-wheel-out = Shift to the smallest sprocket and take the wheel out. Then pull the quick-release skewer or axle right out, so that the tool can go in.
    .watch = They may not know how to get the skewer out: they hold the lever and unscrew the nut on the other end.
procedure-lockring-fit-tool = Push the tool in by hand. It must slide fully home and sit without play.
    .check = It’s home when it’s right down in the splines, flush all round, and doesn’t rock.
    .done = It’s home
    .does-not-go-in = It stops short
    .slips = It rocks
    .watch = Ask whether it went in all the way. If it stops short, it’s the other tool, or dirt.
procedure-lockring-loosen = Wrap the chain whip round a large sprocket, to hold the sprockets back. Put the spanner on the tool, so that the two handles make a V, and push both down. The ring turns anticlockwise, with loud clicks.
    .check = It has moved when the tool stays further round, with a loud click.
    .done = It moved
    .slips = It slips
    .watch = Where do their hands go if it lets go? Ask for gloves.
procedure-lockring-lift-off = Unscrew the ring by hand and lift the sprockets off. Thread them on a wire, so that they keep their order.
    .done = They’re off
    .watch = Small spacers fall out. Ask them to keep those in their places.

procedure-freewheel-make-room = Take the wheel out. On the sprocket side, take off the nut, the spacer or the skewer. Keep the parts in order.
    .watch = Ask what they took off, and in which order.
procedure-freewheel-fit-tool = Push the remover in by hand, all the way.
    .check = It’s home when it’s right at the bottom, flush all round, and doesn’t wobble.
    .done = It’s home
    .does-not-go-in = It doesn’t go in
    .slips = It wobbles
    .watch = Ask for a photo from the side: there may be no gap under the remover.
procedure-freewheel-loosen = Clamp the remover: screw the nut or skewer lightly down on it, with no gap. Then pull with a long spanner; or put the remover in a vice and turn the wheel by its rim. Anticlockwise: it lets go with a crack.
    .check = It has moved when the remover stays further round. A quarter turn is enough.
    .done = It moved
    .slips = It slips out
    .watch = Ask whether the clamp is on before they pull.
procedure-freewheel-clamp-off = Stop after a quarter turn. Take the nut or skewer right off the remover.
    .check = The clamp is off when nothing holds the remover any more.
    .done = Clamp is off
    .watch = Don’t let them go on before the clamp is off.
procedure-freewheel-unscrew = Unscrew it by hand now, still anticlockwise. It’s heavy and greasy: hold it from below.
    .done = It’s off
    .watch = There may be a spacer behind it that must stay with the wheel.

procedure-notched-ring-wheel-out = Take the wheel out and wipe the ring clean.
    .watch = Dirt hides the notches.
procedure-notched-ring-seat-hook = Put the nose of the hook spanner fully into a notch. Its curve should lie along the ring.
    .check = It sits when the nose is right down in the notch, and the curve lies along the ring.
    .done = It sits
    .slips = It doesn’t sit
    .watch = A spanner with the wrong curve only bites at its tip.
procedure-notched-ring-loosen = Hold the sprocket with the chain whip. Push the hook spanner anticlockwise, seen from the sprocket side.
    .check = It has moved when the ring stays further round. Then you can turn it by hand.
    .done = It moved
    .watch = Ask which way they push.
procedure-notched-ring-lift-off = Unscrew the ring by hand. Then lift the sprocket off.
    .done = It’s off
    .watch = Spacers belong back where they were.

procedure-threaded-sprocket-wheel-out = Take the wheel out. No other tool goes in: the smallest sprocket is the lock.
    .watch = They may look for a lockring. There is none.
procedure-threaded-sprocket-loosen = Wrap one chain whip round a large sprocket, to hold it back. Wrap the other round the smallest one, and turn that anticlockwise.
    .check = It has moved when the smallest sprocket stays further round. Then you can turn it by hand.
    .done = It moved
    .watch = Ask for gloves: both hands are at the teeth.
procedure-threaded-sprocket-lift-off = Unscrew the smallest sprocket by hand, and lift the others off. Keep their order.
    .done = They’re off
    .watch = Spacers belong back where they were.

procedure-fixed-ring-wheel-out = Take the wheel out and wipe the ring clean.
    .watch = Dirt hides the notches.
procedure-fixed-ring-ring = Put the hook spanner fully into a notch and turn the ring CLOCKWISE, seen from the sprocket side. Its thread is left-handed: the usual way tightens it.
    .done = The ring is off
    .watch = Ask which way they turn. Clockwise is right here.
procedure-fixed-ring-sprocket = Now wrap the chain whip round the sprocket and turn it anticlockwise.
    .done = It’s off
    .watch = This one turns the usual way again.

procedure-snap-ring-wheel-out = Undo the clip of the brake arm first, if there is one. Then take the wheel out.
    .watch = A coaster brake has an arm on the left side that must come loose first.
procedure-snap-ring-protect = Put safety glasses on, and have a cloth ready to hold over the ring.
    .done = Glasses on
    .watch = Don’t go on before they have the glasses on.
procedure-snap-ring-ring = Hold the cloth over the ring. Put the small screwdriver into the gap of the ring, and lift it out, a little at a time, all the way round.
    .done = The ring is out
    .watch = Ask them to keep their face out of line with the ring.
procedure-snap-ring-sprocket = Look which way the sprocket is dished, and take a photo of it. Then lift it off.
    .done = It’s off
    .watch = Put back the wrong way round, the chain won’t run straight.


## What can be said at a step: the buttons

exit-done = Done
exit-does-not-go-in = It doesn’t go in
exit-slips = It slips
exit-nothing-moves = Nothing moves
exit-whip-slips = The whip slips
exit-turns-along = All of it turns
exit-wrong-way = Turned the wrong way
exit-left-on = The clamp is still on
exit-cable = The cable is in the way
exit-worn = The edges round off
exit-noise = It makes a noise
exit-fell-out = A part fell out
exit-do-not-have = I don’t have that
exit-broke = Something broke
exit-stop = Stop here

## What helps, in at most three short sentences

help-clean-splines = Don’t force it: dirt hides the bottom. Brush it all out, with a torch held close, and push again by hand.
help-tell-lockrings-apart = Then it may be the other 12-spline tool: the two look alike. Try that one by hand. Never force either.
help-direction = Check the direction: anticlockwise, seen from the sprocket side. Then one steady push, no jerks.
help-direction-left = Check the direction: CLOCKWISE for this ring, seen from the sprocket side. Then one steady push.
help-firmer-seat = Clamp the tool with the skewer through it, no gap, and use a longer handle. One steady push.
help-whip-round-a-large-one = Take a larger sprocket, and wrap the whip round it all the way, so that it can’t jump.
help-whip-wrapped = Wrap the whip round it all the way, so that it can’t jump. Pull slowly.
help-wiggle-off = Lift them straight off, a little on each side in turn. Dirt holds them: no lever, no hammer.
help-thin-or-deep = A thick locknut or a long axle can stop it. Ask us for the thin or the deep, hollow one. Don’t use it half in.
help-clamp-again = Stop there: every slip rounds the edges, and your knuckles are next. Push it fully home again, clamp it with no gap, and try once.
help-oil-and-vice = Oil on the thread from behind, and leave it for some hours. Then the remover in a vice: turn the wheel by its rim, that pulls hardest. No heat, no hammer.
help-clamp-still-on = Is the clamp off? Left on, it jams the freewheel. Take it right off.
help-clean-notches = Brush the dirt out of the notch, right to its bottom, and put the nose in again.
help-hook-radius = Push the nose fully in. If the spanner’s curve doesn’t lie along the ring, it’s the wrong size: ask us for the other.
help-oil-and-wait = A drop of oil on the thread, and leave it for some hours. Then once more, steadily. No heat, no hammer.
help-tool-and-whip = Clamp the tool with the skewer through it, lightly and with no gap. Wrap the whip right round a large sprocket, so that it can’t jump.
help-whip-holds-back = Then nothing holds the sprockets back. Wrap the whip round a large one, so that it pulls against the other handle. Does the tool spin in the ring by itself? Stop, and bring it in.
help-two-whips = Then nothing holds the sprockets back. One whip pulls the large one clockwise, the other turns the smallest one anticlockwise.
help-hold-the-wheel = Then the wheel must be held: by its tyre, standing on the floor. Does the tool spin on its own? Stop, and bring it in.
help-other-way = The wrong way only tightens it, and does no harm yet. The right way: anticlockwise, seen from the sprocket side.
help-other-way-left = The wrong way only tightens it, and does no harm yet. For this ring the right way is CLOCKWISE, seen from the sprocket side.
help-clamp-off-now = Not with that on. Take it right off before you turn any further: left on, it jams, and something breaks.
help-clamp-right-now = That’s right for now: it holds the remover in. Once it has moved a quarter turn, take it right off.
help-clamp-tight = The remover has moved out against it. Loosen it with a spanner, and don’t turn the remover any further.
help-slacken-the-clamp = Lightly on, it holds the tool in. Once the ring has moved, take it right off: left on, it jams.
help-nut-off-first = That must come off first, on the sprocket side. Then the tool can go right in.
help-wheel-stays-in = Undo a nut anticlockwise, seen from its own side, with a long spanner that fits it well. If it stays stuck, leave the wheel in and roll the bike to us.
help-cable-passes = Stop there: don’t pull the cable, and don’t force the plug. It takes the hollow remover that lets the cable through. Ask us for it, or bring the bike.
help-what-noise = A crack or clicks as it lets go are right. A crunch or a grinding is not: stop, and look for what bent or chipped.
help-keep-the-parts = Keep it, and note where it came from. Not sure? Bring all of it in a bag: we know the order.
help-start-by-hand = Back it off, and start again by hand, straight and without force. If it binds, the thread is crossed: stop, and bring it in.
help-ring-in-its-groove = Press it into its groove from one end on, all the way round. Keep your eyes protected. If it won’t stay, bring it in.
help-find-the-gap = Look for the gap in the ring, where its two ends are. Start right there, and keep the cloth over it.
